"""Enter a component that was replaced during an inspection; the gas circuit changes with the signature."""

from django.db import transaction

from fleet.changes import record_created, recording
from inspections.actions.holding import hold_in_progress
from inspections.at_bench.repairs import after_work, repair_of
from inspections.at_bench.repeated_steps import rows_after_replacement
from inspections.at_bench.replaceable import replaceable_components
from inspections.errors import Refused
from inspections.models import InspectionStep, Replacement

PLATE = ("serial", "lot", "part_number")


@transaction.atomic
def record_replacement(step, code, *, by, at, removed=None, note="", **fitted):
    """Enter that the component `code` of the machine was replaced, and add the steps that the work calls for.

    fitted   serial, lot and part_number of the new one; without a part number it is that of the removed one
    removed  the same of the removed one, where the record lacks them or they differ

    In a set of readings as left the work was done before that set was begun, else it was done now. Raise Refused for
    a component that is not in place, and for one that was entered as replaced already; RecordFrozen if the inspection
    is not in progress.
    """
    hold_in_progress(step)
    inspection = step.inspection
    known = {one.code: one for one in replaceable_components(step, inspection.machine.site.date_of(at))}
    if code not in known:
        raise Refused(f"Machine {inspection.machine} has no component “{code}” in place. Choose one of the list.")
    component = known[code]
    _refuse_twice(inspection, component)
    replacement = Replacement.objects.create(
        step=step, component=component.record, code=code, kind=component.kind, label=component.label,
        gas=component.gas, note=note, done_at=step.begun_at or at, by=by, at=at,
        **_plates(component.plate, removed or {}, fitted),
    )  # fmt: skip
    record_created([replacement], by=by, at=at)
    _add_steps(inspection, replacement, on=inspection.machine.site.date_of(at))
    return replacement


@transaction.atomic
def change_replacement(replacement, *, by, at, removed=None, note="", **fitted):
    """Correct what was entered of a replaced component. Raise Refused if it was withdrawn, RecordFrozen once signed."""
    _hold(replacement)
    recorded = replacement.component
    plate = {name: getattr(recorded, name) if recorded else "" for name in PLATE}
    changed = {"note": note, **_plates(plate, removed or {}, fitted)}
    with recording(replacement, by=by, at=at):
        Replacement.objects.filter(pk=replacement.pk).update(**changed)
    replacement.refresh_from_db()


@transaction.atomic
def withdraw_replacement(replacement, *, by, at):
    """Take back the entry, which stays readable, and the steps that it added, as far as they hold nothing.

    Raise Refused if it was withdrawn before, RecordFrozen if the inspection is not in progress.
    """
    _hold(replacement)
    with recording(replacement, by=by, at=at):
        Replacement.objects.filter(pk=replacement.pk).update(withdrawn_by=by, withdrawn_at=at)
    for step in InspectionStep.objects.filter(inspection=replacement.step.inspection_id):
        if step.content.get("after_replacement") == replacement.pk and not step.holds_anything:
            step.delete()
    replacement.refresh_from_db()


def _hold(replacement):
    hold_in_progress(replacement.step)
    replacement.refresh_from_db()
    if replacement.withdrawn_at:
        raise Refused(f"The entry that {replacement} was replaced is already withdrawn.")


def _refuse_twice(inspection, component):
    for one in Replacement.objects.of(inspection):
        if one.code == component.code:
            raise Refused(
                f"{one.label} is already entered as replaced, at step {one.step}. Correct that entry: it says what is "
                "fitted at the end."
            )


def _plates(recorded, removed, fitted):
    """The columns of both plates. What is not stated of the removed one is as recorded."""
    was = {name: removed.get(name) or recorded[name] for name in PLATE}
    now = {name: fitted.get(name, "") for name in PLATE}
    now["part_number"] = now["part_number"] or was["part_number"]
    return {f"removed_{name}": text for name, text in was.items()} | {
        f"fitted_{name}": text for name, text in now.items()
    }


def _add_steps(inspection, replacement, *, on):
    """Add the steps, of all procedures, that the work calls for and that the inspection does not have."""
    repair = repair_of(replacement)
    there = list(InspectionStep.objects.filter(inspection=inspection))
    because = {"repeated_because": after_work([repair.words]), "after_replacement": replacement.pk}
    rows = rows_after_replacement(inspection, there, repair, because, on=on)
    last = max((step.position for step in there), default=0)
    for position, row in enumerate(rows, start=last + 1):
        row.position = position
    InspectionStep.objects.bulk_create(rows)
