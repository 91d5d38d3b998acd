"""Work on the bench: open an inspection, keep each reading the moment it is entered, say what was not tested."""

import re

from django.db import transaction

from fleet.catalogue.plausibility import reading_problem, use_problem
from inspections.actions.contests import came_between, contest, settle_own
from inspections.actions.holding import hold_on_bench
from inspections.actions.replacing import record_replaced
from inspections.actions.stages import change_stage
from inspections.errors import ReadingRefused, StageRefused
from inspections.models import InspectionStep, Reading, Stage
from inspections.seen import NOT_TOLD
from inspections.steps import build_steps

NUMBER = re.compile(r"[+-]?(\d+(\.\d*)?|\.\d+)", re.ASCII)


@transaction.atomic
def open_inspection(inspection, *, by, at, ambient_kpa_abs=None, temperature_c=20.0):
    """Put an inspection on the bench: fix the procedure version and lay out the steps that apply to the machine.

    Raise StageRefused if it is on the bench already or done, or the conditions are not plausible, ProcedureError if no
    version of the procedure is loaded.
    """
    _refuse_conditions(ambient_kpa_abs, temperature_c)
    steps = build_steps(inspection, on=inspection.machine.site.date_of(at))
    change_stage(
        inspection,
        Stage.ON_BENCH,
        by=by,
        at=at,
        version=steps.version,
        technician=inspection.technician or by,
        opened_by=by,
        opened_at=at,
        ambient_kpa_abs=ambient_kpa_abs,
        temperature_c=temperature_c,
    )
    inspection.steps.bulk_create(steps.rows)


@transaction.atomic
def enter_reading(step, entry, *, by, at, token=None):
    """Store the reading of an Entry as it was read; an earlier one in the same place is superseded, not overwritten.

    When somebody else entered a reading there that `entry.seen` does not name, that one stays current, and this one is
    stored beside it: `is_contested` says so.

    token  that of `by` with which a program enters it; the program is somebody else than the person

    Raise ReadingRefused for what the place does not take, RecordFrozen if the inspection is not on the bench.
    """
    hold_on_bench(step)
    _refuse_unreadable(entry)
    place = {"step": step, **entry.place}
    there = list(Reading.objects.that_matter().filter(**place).select_related("instrument", "entered_by", "token"))
    standing = next((reading for reading in there if reading.superseded_at is None), None)
    if standing and entry.repeats(standing):
        return standing
    if standing and came_between(standing, entry.seen, by, token):
        return contest(standing, {**place, **entry.values}, by=by, at=at, token=token)
    if any(reading.is_contested and reading.is_by(by, token) for reading in there):
        settle_own(place, by=by, at=at, token=token)
    if standing:
        Reading.objects.filter(pk=standing.pk).update(superseded_at=at, superseded_by=by)
    entered = Reading.objects.create(**place, **entry.values, entered_by=by, entered_at=at, token=token)
    if standing:
        record_replaced(step, standing, entered, by=by, at=at, token=token)
    return entered


@transaction.atomic
def clear_reading(step, field, *, by, at, row=0, column="", seen=NOT_TOLD):
    """Take back a reading: it stays in the table as superseded.

    `seen` as in an Entry: what somebody else entered unseen is not taken back. Return what stands now, or None.
    """
    hold_on_bench(step)
    current = Reading.objects.current().filter(step=step, field=field, row=row, column=column)
    standing = current.select_related("instrument", "entered_by", "token").first()
    if standing and came_between(standing, seen, by):
        return standing
    if standing:
        current.update(superseded_at=at, superseded_by=by)
        record_replaced(step, standing, None, by=by, at=at)
    return None


@transaction.atomic
def set_not_tested(step, *, reason):
    """Say why a step was not tested, or with an empty reason that it will be after all.

    Raise StageRefused if somebody gave another reason already.
    """
    hold_on_bench(step)
    reason, same = reason.strip(), InspectionStep.objects.filter(pk=step.pk)
    if reason and not same.filter(not_tested_reason__in=("", reason)).update(not_tested_reason=reason):
        step.refresh_from_db(fields=["not_tested_reason"])
        raise StageRefused(
            f"{step} was left untested meanwhile: “{step.not_tested_reason}” Press “Test it after all” first to give "
            "another reason."
        )
    if not reason:
        same.update(not_tested_reason="")
    step.not_tested_reason = reason


def _refuse_conditions(ambient_kpa_abs, temperature_c):
    conditions = [
        ("Ambient pressure", ambient_kpa_abs, "kPa", "ambient-pressure"),
        ("Room temperature", temperature_c, "°C", "ambient-temperature"),
    ]
    for name, value, unit, use in conditions:
        if value is not None and (problem := use_problem(value, use)):
            raise StageRefused(f"{name}: {problem.of(f'{value:g} {unit}')}")


def _refuse_unreadable(entry):
    slot, as_read, unit = entry.slot, entry.as_read, entry.unit
    if slot.options and as_read not in slot.options:
        raise ReadingRefused(f"{slot.label} takes one of: {', '.join(slot.options)}; got “{as_read}”.", slot.key)
    if slot.options:
        return
    if unit not in slot.units:
        raise ReadingRefused(f"{slot.label} takes {' or '.join(slot.units)}; got the unit “{unit}”.", slot.key)
    if len(as_read) > 20 or not NUMBER.fullmatch(as_read):
        raise ReadingRefused(
            f"{slot.label}: “{as_read}” is not a number. Write digits with a point for decimals, such as 24.5.",
            slot.key,
        )
    if problem := reading_problem(float(as_read), unit):
        raise ReadingRefused(f"{slot.label}: {problem.of(f'{as_read} {unit}')} Check the unit.", slot.key)
