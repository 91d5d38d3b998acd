"""What a record says of readings that waited on a device without a network: when they were typed, when they arrived."""

from datetime import datetime
from zoneinfo import ZoneInfo

from fleet.days import long_moment
from fleet.place_format import current


def typed_later(readings, place_of):
    """Return a sentence for each moment of arrival.

    readings  of a step, as its record has them; place_of(reading)  what its place is called
    """
    found = {}
    for reading in readings:
        if "typed_at" in reading:
            found.setdefault(_minute(reading["entered_at"]), []).append(reading)
    return [_sentence(arrived, there, place_of) for arrived, there in sorted(found.items())]


def _sentence(arrived, readings, place_of):
    places = {}
    for reading in readings:
        places.setdefault(_minute(reading["typed_at"]), {})[place_of(reading)] = None
    typed = "; ".join(f"{', '.join(names)} on {long_moment(moment)}" for moment, names in sorted(places.items()))
    stored = long_moment(arrived)
    return f"Typed on a device without a network, by the clock of the device: {typed}. Stored on {stored}."


def _minute(text):
    zone = ZoneInfo(current().zone or "UTC")
    return datetime.fromisoformat(text).astimezone(zone).replace(second=0, microsecond=0)
