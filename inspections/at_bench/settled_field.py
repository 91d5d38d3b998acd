"""What a field holds after its reading was stored otherwise than it was sent."""

from dataclasses import dataclass

from inspections.at_bench.slots import reading_shown


@dataclass(frozen=True, slots=True)
class SettledField:
    """Id of the place; text, unit, zero and key of the instrument that its field shows from now on."""

    place_id: str
    text: str
    unit: str
    zero: str
    instrument_id: int | None
    took: str = ""  # code of the instrument that the server took instead of the one that was sent


def settled_field(place, data, sent, *, named, refused_by):
    """Return the SettledField of a place where it differs from what was sent, None where it does not.

    sent  key of the instrument that was sent for it, as text

    A unit typed behind the number goes to the unit of the field; an instrument taken by its value is chosen there. A
    scanned instrument (`named`) leaves the text as it was before.
    """
    reading, slot = place.reading, place.slot
    if slot.options or (refused_by and not named):
        return None
    if named:
        chosen = named.pk if not refused_by and slot.dimension in named.dimensions else place.settings.instrument_id
        text = reading_shown(reading) if reading else ""
        return SettledField(place.id, text, place.settings.unit, place.settings.zero, chosen)
    if reading is None:
        return None
    took = reading.instrument.code if reading.instrument and str(reading.instrument_id) != sent else ""
    settled = SettledField(place.id, reading_shown(reading), reading.unit, reading.zero, reading.instrument_id, took)
    stored = {slot.names.value: settled.text, slot.names.unit: settled.unit}
    differs = any(data.get(name, value).strip() != value for name, value in stored.items())
    return settled if differs or sent != str(reading.instrument_id or "") else None
