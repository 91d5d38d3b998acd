"""What a blank bench sheet shows: the steps of an inspection, a place for each reading, and last time's value."""

from dataclasses import dataclass

from fleet.place_format import current
from inspections.at_bench.applicable_steps import build_steps
from inspections.at_bench.last_time import LastTime
from inspections.at_bench.slots import choice_slot, fixed_choices, reading_shown, reading_slot
from inspections.at_bench.step_content import test_of
from inspections.at_bench.units_here import unit_of
from inspections.models import Inspection, InspectionStep, Reading

INSPECTIONS_BACK = 6  # the newest signed ones in which last time's values are looked for


@dataclass(frozen=True, slots=True)
class BlankPlace:
    """One place to write in: a number with its unit, or one of its options; `last` is what was read last time."""

    label: str
    unit: str
    options: tuple[str, ...]
    last: str
    required: bool
    needs_instrument: bool


@dataclass(frozen=True, slots=True)
class BlankTable:
    label: str
    columns: tuple[str, ...]
    rows: int
    last: tuple[tuple[str, ...], ...]
    is_needed: bool


@dataclass(frozen=True, slots=True)
class BlankStep:
    step: InspectionStep
    cautions: tuple[str, ...]
    places: tuple[BlankPlace, ...]
    tables: tuple[BlankTable, ...]


def blank_steps(inspection, *, on):
    """Return the steps that apply, before the inspection is started as they would be listed on the date `on`.

    Five queries, however many steps there are.
    """
    if inspection.is_in_progress:
        steps = list(inspection.steps.that_apply().select_related("component"))
    else:
        steps = [row for row in build_steps(inspection, on=on).rows if row.applies]
    return blank_steps_of(inspection, steps)


def blank_steps_of(inspection, steps):
    """Return these steps of an inspection as a blank sheet has them. Two queries."""
    last = _last_readings(inspection)
    return [_blank(step, last.get(step.what, {}), inspection.units) for step in steps]


def _last_readings(inspection):
    """By what a step is about: place -> reading at the newest signed inspection of the machine that has any."""
    signed = Inspection.objects.signed().filter(machine=inspection.machine_id).order_by("-signed_at", "-pk")
    newest = {pk: rank for rank, pk in enumerate(signed.values_list("pk", flat=True)[:INSPECTIONS_BACK])}
    readings = Reading.objects.current().filter(step__inspection__in=newest).select_related("step")
    found = {}
    for reading in sorted(readings, key=lambda one: newest[one.step.inspection_id]):
        rank, places = found.setdefault(reading.step.what, (newest[reading.step.inspection_id], {}))
        if rank == newest[reading.step.inspection_id]:
            places.setdefault(reading.slot, reading)
    return {what: places for what, (_, places) in found.items()}


def _blank(step, last, units):
    test, fixed = test_of(step), fixed_choices(step)
    choices = [_choice(spec, last) for spec in test.choices if spec.key not in fixed]
    readings = [_place(reading_slot(spec, field=spec.key), last, units) for spec in test.readings]
    cautions = (*test.cautions, *filter(None, [step.content.get("caution", "")]))
    tables = tuple(_table(spec, last, units) for spec in test.tables)
    return BlankStep(step, cautions, (*choices, *readings), tables)


def _choice(spec, last):
    slot, labels = choice_slot(spec), dict(spec.options)
    was = last.get(slot.key)
    return BlankPlace(slot.label, "", tuple(labels.values()), labels.get(was.as_read, "") if was else "", True, False)


def _place(slot, last, units):
    unit = "" if slot.options else unit_of(slot, units, current())
    last = _last(slot, last.get(slot.key), unit)
    return BlankPlace(slot.label, unit, slot.options, last, slot.required, slot.needs_instrument)


def _last(slot, was, unit):
    """What was read last time, in the unit of today."""
    if was is None:
        return ""
    if slot.options:
        return reading_shown(was)
    last = LastTime(was, unit)
    return f"{last.shown}{last.zero}"


def _table(spec, last, units):
    slots = [reading_slot(column, field=spec.key, column=column.key) for column in spec.columns]
    places = [_place(slot, {}, units) for slot in slots]
    rows = sorted({row for field, row, _ in last if field == spec.key})
    was = tuple(
        tuple(_in_row(slot, place, last, row) for slot, place in zip(slots, places, strict=True)) for row in rows
    )
    columns = tuple(f"{place.label} ({place.unit})" if place.unit else place.label for place in places)
    is_needed = spec.min_rows > 0 or spec.is_expected
    return BlankTable(spec.label, columns, max(spec.min_rows, spec.suggested_rows, len(rows)), was, is_needed)


def _in_row(slot, place, last, row):
    return _last(slot, last.get((slot.field, row, slot.column)), place.unit) or "–"
