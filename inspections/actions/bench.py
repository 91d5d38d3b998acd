"""Carry out an inspection: start it, save each reading as soon as it is entered, mark steps as not tested."""

from django.db import transaction

from fleet.catalogue.plausibility import use_problem
from fleet.models.querysets.prepared_queries import prepared
from inspections.actions.asking import ask_about, close_questions_about
from inspections.actions.contests import came_between, contest, settle_own
from inspections.actions.holding import hold_in_progress
from inspections.actions.marks import add_mark, undo_mark
from inspections.actions.replacing import record_replaced
from inspections.actions.stages import change_stage
from inspections.actions.units import remember_units, sound_units
from inspections.at_bench.applicable_steps import build_steps
from inspections.at_bench.reading_entry import refuse_unreadable
from inspections.concurrent_edits import NOT_TOLD
from inspections.errors import StageRefused
from inspections.models import InspectionStep, Reading, Stage


@transaction.atomic
def open_inspection(inspection, *, by, at, ambient_kpa_abs=None, temperature_c=20.0, units=None):
    """Start an inspection: set the procedure version and list the steps that apply to the machine.

    units  the unit by code of its choice, empty text for “as asked”; remembered for the person. None for those
           of the site

    Raise StageRefused if it is already in progress or done, or the conditions or units are not plausible,
    ProcedureError if no version of the procedure is loaded.
    """
    _refuse_conditions(ambient_kpa_abs, temperature_c)
    chosen = sound_units(units or {})
    steps = build_steps(inspection, on=inspection.machine.site.date_of(at))
    change_stage(
        inspection,
        Stage.IN_PROGRESS,
        by=by,
        at=at,
        version=steps.version,
        technician=inspection.technician or by,
        opened_by=by,
        opened_at=at,
        ambient_kpa_abs=ambient_kpa_abs,
        temperature_c=temperature_c,
        units=chosen,
    )
    if units:
        remember_units(by, units)
    inspection.steps.bulk_create(steps.rows)


@transaction.atomic
def enter_reading(step, entry, *, by, at, token=None, typed_at=None):
    """Save the reading of an Entry as it was read; the current reading of its place is superseded, not overwritten.

    If `entry.seen` does not name the current reading, which is another one, that stays current and this one is saved
    beside it as `is_contested`. Of a program this holds for readings of others only.

    token  token of `by` with which a program enters it; a program counts as a different author than the person
    typed_at  when it was typed, if that was on a device which had no network then

    Raise ReadingRefused for what the field does not take, RecordFrozen if the inspection is not in progress.
    """
    hold_in_progress(step)
    refuse_unreadable(entry)
    place = {"step": step, **entry.place}
    there = _readings_at(step.pk, *entry.place.values())
    standing = next((reading for reading in there if reading.superseded_at is None), None)
    if standing and entry.repeats(standing):
        return standing
    if standing and came_between(standing, entry.seen, by, token):
        return contest(standing, {**place, **entry.values}, by=by, at=at, token=token, typed_at=typed_at)
    if any(reading.is_contested and reading.is_by(by, token) for reading in there):
        settle_own(place, by=by, at=at, token=token)
    if standing:
        Reading.objects.filter(pk=standing.pk).update(superseded_at=at, superseded_by=by)
    said = {**entry.values, "entered_by": by, "entered_at": at, "typed_at": typed_at, "token": token}
    entered = Reading.objects.create(**place, **said)
    if standing:
        record_replaced(step, standing, entered, by=by, at=at, token=token)
        close_questions_about(standing, entered, by=by, at=at)
    ask_about(step, entered, by=by, at=at)
    return entered


@prepared
def _readings_at(step, field, row, column):
    at_place = Reading.objects.that_matter().filter(step=step, field=field, row=row, column=column)
    return at_place.select_related("instrument", "entered_by", "token")


@transaction.atomic
def clear_reading(step, field, *, by, at, row=0, column="", seen=NOT_TOLD):
    """Take back a reading: it stays in the table as superseded.

    `seen` as in an Entry: a reading that was entered unseen is not taken back. Return the current reading, or None.
    """
    hold_in_progress(step)
    current = Reading.objects.current().filter(step=step, field=field, row=row, column=column)
    standing = current.select_related("instrument", "entered_by", "token").first()
    if standing and came_between(standing, seen, by):
        return standing
    if standing:
        current.update(superseded_at=at, superseded_by=by)
        record_replaced(step, standing, None, by=by, at=at)
        close_questions_about(standing, None, by=by, at=at)
    return None


@transaction.atomic
def set_not_tested(step, *, reason, by, at):
    """Mark a step as not tested, with the reason; an empty reason undoes the mark. The history keeps both.

    Raise StageRefused if somebody gave another reason already, RecordFrozen if the inspection is not in progress.
    """
    hold_in_progress(step)
    reason, same = reason.strip(), InspectionStep.objects.filter(pk=step.pk)
    if reason and not same.filter(not_tested_reason__in=("", reason), is_last=True).update(not_tested_reason=reason):
        step.refresh_from_db(fields=["not_tested_reason", "is_last"])
        if not step.is_last:
            raise StageRefused(f"{step}: these readings stay, since the step is tested again as left. Mark that one.")
        raise StageRefused(
            f"{step} has already been marked as not tested: “{step.not_tested_reason}” "
            "Undo “not tested” first to enter another reason."
        )
    if reason:
        add_mark(step, reason, by=by, at=at)
    elif stored := same.values_list("not_tested_reason", flat=True).get():
        same.update(not_tested_reason="")
        undo_mark(step, stored, by=by, at=at)
    step.not_tested_reason = reason


def _refuse_conditions(ambient_kpa_abs, temperature_c):
    conditions = [
        ("Ambient pressure", ambient_kpa_abs, "kPa", "ambient-pressure"),
        ("Room temperature", temperature_c, "°C", "ambient-temperature"),
    ]
    for name, value, unit, use in conditions:
        if value is not None and (problem := use_problem(value, use)):
            raise StageRefused(f"{name}: {problem.of(f'{value:g} {unit}')}")
