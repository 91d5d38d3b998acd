"""A person's instruments of the day, and which of them fits a value: by dimension, range and calibration."""

from datetime import timedelta

from fleet.place_format import NumberRefused, read_number
from inspections.at_bench.evaluation import bench_scale
from inspections.at_bench.typed_unit import read_typed
from inspections.bench import Zero, to_si
from inspections.errors import ReadingRefused
from inspections.models import InstrumentOfDay

REMEMBERED = timedelta(days=30)  # a set this old is neither proposed again nor stored any longer
COARSER = 4  # times the uncertainty of the finest, up to which another is proposed; common practice, no source


def latest_set(person, site, day):
    """Return the keys of the instruments that the person chose last at a site, up to the day."""
    rows = InstrumentOfDay.objects.filter(person=person, site=site, day__range=(day - REMEMBERED, day))
    found = list(rows.order_by("-day").values_list("day", "instrument_id"))
    return {instrument for on, instrument in found if on == found[0][0]}


def find_code(choices, text):
    """Return the instrument whose code a text is, whatever its capitals; None if it is none."""
    code = " ".join(text.split()).casefold()
    return next((choice for choice in choices if choice.code.casefold() == code), None)


def named_in_place(choices, slot, text):
    """Return the instrument whose code was typed or scanned into a place; None for what can be its reading."""
    if slot.options or not any(character.isalpha() for character in text):
        return None
    choice = find_code(choices, text)
    return None if choice is None or _is_reading(slot, text) else choice


def _is_reading(slot, text):
    try:
        read_number(read_typed(slot, text).digits)
    except (ReadingRefused, NumberRefused):
        return False
    return True


def value_si(read, ambient_pa_abs):
    """Return the number of an Entry or of a stored reading in SI, a pressure as gauge; None for what is none."""
    zero = Zero(read.zero) if read.zero else None
    try:
        return to_si(float(read.as_read), read.unit, zero=zero, ambient_pa_abs=ambient_pa_abs)
    except ValueError:
        return None


def none_holds(reading, slot, offered, ambient_pa_abs):
    """Return that no instrument at hand holds a reading, as a sentence part; empty if one does, or none is at hand.

    At hand is the test set of the person; without one for the dimension, what the site has.
    """
    usable = [choice for choice in offered if not choice.refusal]
    mine = [choice for choice in usable if choice.is_in_set]
    value = value_si(reading, ambient_pa_abs)
    if value is None or not usable or any(fits(choice, slot.dimension, [value]) for choice in mine or usable):
        return ""
    return f"no instrument {'of your test set' if mine else 'at this site'} holds {reading}"


def fits(choice, dimension, values):
    """Whether an instrument may be used, and one of its scales for the dimension holds each value."""
    return _fineness(choice, dimension, values) is not None


def best_fit(choices, dimension, values):
    """Return the finest instrument that fits every value, the one of the smaller range among equals; None if none."""
    found = [(_fineness(choice, dimension, values), choice) for choice in choices]
    fitting = [(fineness, choice.code, choice) for fineness, choice in found if fineness is not None]
    return min(fitting, key=lambda one: one[:2])[2] if fitting else None


def fine_enough(choices, dimension, values):
    """Leave out what is far coarser than the finest that fits: a gauge for cylinders holds an airway's pressure too."""
    best = best_fit(choices, dimension, values)
    if best is None:
        return []
    finest = _fineness(best, dimension, values)
    found = [(_fineness(choice, dimension, values), choice) for choice in choices]
    fitting = [(fineness, choice) for fineness, choice in found if fineness is not None]
    return [
        choice for (is_unstated, std, _), choice in fitting if is_unstated == finest[0] and std <= COARSER * finest[1]
    ]


def _fineness(choice, dimension, values):
    """Return what sorts the finest instrument first, None for one that does not fit.

    One with a stated accuracy comes first, then the smaller standard uncertainty at the largest value, then the
    smaller range.
    """
    if choice.refusal or not values:
        return None
    scales = _scales(choice, dimension)
    holding = [next((scale for scale in scales if scale.holds(value)), None) for value in values]
    if None in holding:
        return None
    value, scale = max(zip(values, holding, strict=True), key=lambda pair: abs(pair[0]))
    return not scale.accuracy.is_stated, scale.std_uncertainty(value), scale.span_si


def _scales(choice, dimension):
    """The scales for a dimension, the smallest span first, as the bench chooses among them; none that is unsound."""
    found = []
    for scale in choice.instrument.scales.all():
        if scale.dimension == dimension:
            try:
                found.append(bench_scale(scale))
            except (ArithmeticError, ValueError):
                continue
    return sorted(found, key=lambda scale: scale.span_si)
