"""What to ask about a reading that was entered: a slip, or another reading that it contradicts."""

from dataclasses import dataclass

from fleet.catalogue.dimensions import find_unit
from fleet.catalogue.plausibility import reading_problem
from fleet.place_format import NEUTRAL, using
from fleet.web.at_site import day_words
from inspections.at_bench.earlier_readings import current_reading, earlier_readings, readings_of_model, typed_of
from inspections.at_bench.slots import find_slot
from inspections.at_bench.step_content import test_of
from inspections.bench import from_si, to_si
from inspections.bench.impossible import contradictions_with
from inspections.bench.slips import distance, in_rows_of_today, knowledge_of, question_about
from inspections.bench.slips.usual import ranges_of, usual_of
from inspections.models import QuestionKind


@dataclass(frozen=True, slots=True)
class Doubt:
    """A question to ask: its kind, its sentence, and what may have been meant."""

    kind: QuestionKind
    asked: str
    alternatives: tuple[dict, ...] = ()


def doubts_about(step, reading, current, *, doubtful=()):
    """Return the Doubts about a reading of a step, none for most.

    current   the current readings of the step, `reading` among them
    doubtful  places whose reading is in doubt itself: nothing is concluded from them
    """
    ambient = step.inspection.ambient_pa_abs
    typed = typed_of(reading.as_read, reading.unit, reading.zero, ambient)
    if typed is None:
        return []
    here = [shown for one in current if (shown := current_reading(one, ambient))]
    with using(NEUTRAL):
        slip = _slip(step, reading, typed, [one for one in here if one.read.slot not in doubtful])
        return [one for one in (slip, _contradiction(step, reading, here)) if one]


def contradicts(step, reading, current):
    """Whether a reading of a step still contradicts another one."""
    ambient = step.inspection.ambient_pa_abs
    here = [shown for one in current if (shown := current_reading(one, ambient))]
    return _contradiction(step, reading, here) is not None


def _slip(step, reading, typed, here):
    slot, dimension = reading.slot, find_unit(reading.unit)[0]
    now = [one.read for one in here if one.dimension == dimension.code and one.read.slot != slot]
    of_step, of_model = earlier_readings(step), False
    earlier = _in_rows_of_today(step, slot, of_step, dimension, here)
    if not any(one.slot == slot for one in earlier):
        of_step, of_model = readings_of_model(step), True
        earlier = _in_rows_of_today(step, slot, of_step, dimension, here)
    compared, is_known = _of_dimension(of_step, dimension), any(one.slot == slot for one in earlier)
    ranges = ranges_of(step.test_code, slot[0], slot[2], {} if is_known else _rated(step))
    is_linear, is_set = any(unit.zero for unit in dimension.units), slot[2] in _sets(step, slot)
    known = knowledge_of(slot, earlier, now, ranges, of_model=of_model, is_linear=is_linear, is_set=is_set)
    found = question_about(typed, _units(step, slot, [one.words for one in (*compared, *here)]), known)
    offers = [one.typed for one in found.alternatives if _can_be_entered(one.typed)] if found else []
    if not offers:
        return None
    at_place = _at_place(step, slot, compared)
    reference = _reference(step, known.scale, at_place, offers[0], of_model) or _rating(step, slot, reading.unit)
    meant = " or ".join(f"{one.digits} {one.unit}" for one in offers)
    alternatives = tuple({"as_read": one.digits, "unit": one.unit} for one in offers)
    return Doubt(QuestionKind.SLIP, f"{reference} Did you mean {meant}?", alternatives)


def _in_rows_of_today(step, slot, of_step, dimension, here):
    """Return the earlier readings of one dimension as they would stand at today's settings."""
    earlier = [one.read for one in _of_dimension(of_step, dimension)]
    return in_rows_of_today(slot, earlier, [one.read for one in here], _sets(step, slot), [one.read for one in of_step])


def _sets(step, slot):
    return test_of(step).columns_set_in(slot[0])


def _at_place(step, slot, compared):
    """Return the earlier readings of a place; of its whole column where each row is at another setting."""
    is_swept = slot[2] and _sets(step, slot)
    return [one for one in compared if one.read.slot == slot or (is_swept and one.read.column == (slot[0], slot[2]))]


def _units(step, slot, readings):
    """Return the units of a place, those in which its step was read before and is read now first."""
    used = {words.rpartition(" ")[2] for words in readings}
    return sorted(find_slot(step, *slot).units, key=lambda unit: unit not in used)


def _of_dimension(readings, dimension):
    return [one for one in readings if one.dimension == dimension.code]


def _can_be_entered(typed):
    return len(typed.digits) <= 20 and reading_problem(float(typed.digits), typed.unit) is None


def _reference(step, scale, at_place, meant, of_model):
    """Return what the alternative is like: last time's reading, an earlier one, or that of other machines."""
    if not at_place:
        return ""
    nearest = min(
        at_place, key=lambda one: (round(distance(scale, one.read.value, meant.value), 1), -one.read.occasion)
    )
    if of_model:
        return f"{nearest.words} on another machine of this model."
    if nearest.read.occasion == max(one.read.occasion for one in at_place):
        return f"{nearest.words} last time."
    return f"{nearest.words} on {day_words(step.inspection.machine.site.date_of(nearest.signed_at))}."


def _rating(step, slot, unit):
    usual = usual_of(step.test_code, slot[0], slot[2])
    rated = ranges_of(step.test_code, slot[0], slot[2], _rated(step))
    if rated and rated[0].source == "rated":
        return f"Rated for {from_si(rated[0].low, usual.unit):.4g} {usual.unit}."
    return f"Usually {usual.low:g} to {usual.high:g} {usual.unit} here."


def _rated(step):
    """Return the rated values of the component of a step, else of those with its gas, SI."""
    components = [step.component] if step.component else []
    if not components and step.subject:
        on = step.inspection.machine.site.date_of(step.inspection.opened_at)
        components = step.inspection.machine.components.on(on).filter(gas=step.subject)
    rated = {}
    for component in components:
        for key, (value, unit) in component.rated.items():
            if find_unit(unit):
                rated[key] = to_si(value, unit)
    return rated


def _contradiction(step, reading, here):
    test = test_of(step)
    reads, words = {one.read.slot: one.read for one in here}, {one.read.slot: one.words for one in here}
    found = contradictions_with(test.pairs, reads, reading.slot)
    if not found:
        return None
    lower, upper = (_place_words(step, one.slot, words) for one in (found[0].lower, found[0].upper))
    asked = f"{lower} is above {upper}. {found[0].reason} Is {reading} right?"
    return Doubt(QuestionKind.PAIR, asked[:1].upper() + asked[1:])


def _place_words(step, slot, words):
    """Such as “outlet pressure in row 2 of flowing outlet pressure, 50 psi,”."""
    place = find_slot(step, *slot)
    row = f" in row {place.row + 1} of “{_table_label(step, place)}”" if place.column else ""
    return f"{place.label[:1].lower()}{place.label[1:]}{row} ({words[slot]})"


def _table_label(step, place):
    return next(table.label for table in test_of(step).tables if table.key == place.field)
