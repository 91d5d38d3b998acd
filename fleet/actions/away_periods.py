"""Machines that are lent or at a repair outside: send one away, set another day of return, take it back."""

from django.db import transaction

from fleet.changes import record_created, recording
from fleet.errors import RegisterRefused
from fleet.models import AwayKind, AwayPeriod, Machine, MachineStatus
from fleet.place_format import day_text


@transaction.atomic
def send_away(machine, *, kind, to_whom, from_date, expected_on, reason, by, at, note=""):
    """Record that a machine is lent, or at a repair outside. Its inspections stay due as they were.

    Raise RegisterRefused for a machine that is away already or retired, for days in the wrong order, and where it was
    away in that time.
    """
    held = Machine.objects.select_for_update(no_key=True).get(pk=machine.pk)
    today = machine.site.date_of(at)
    if held.status == MachineStatus.RETIRED:
        raise RegisterRefused(f"Machine {machine} is retired. Only a machine in service or withdrawn can be away.")
    _refuse_days(machine, from_date, expected_on, today)
    if not to_whom.strip() or not reason.strip():
        raise RegisterRefused("State to whom the machine goes, and why.")
    _refuse_overlap(machine, from_date)
    away = AwayPeriod.objects.create(
        machine=machine, kind=AwayKind(kind), to_whom=to_whom.strip(), from_date=from_date, expected_on=expected_on,
        reason=reason.strip(), note=note.strip(), by=by, at=at,
    )  # fmt: skip
    record_created([away], by=by, at=at)
    return away


@transaction.atomic
def expect_back(away, *, expected_on, note, by, at):
    """Set another day on which a machine is expected back. Raise RegisterRefused if it is back, or the day is past."""
    today = away.machine.site.date_of(at)
    if expected_on < today:
        raise RegisterRefused(f"{day_text(expected_on)} is past. Enter today, {day_text(today)}, or a later day.")
    if not note.strip():
        raise RegisterRefused("State why the machine comes back on another day.")
    with recording(away, by=by, at=at):
        if not AwayPeriod.objects.now().filter(pk=away.pk).update(expected_on=expected_on, note=note.strip()[:300]):
            raise RegisterRefused(f"{away}: the machine is back already.")
    away.refresh_from_db()
    return away


@transaction.atomic
def take_back(away, *, returned_on, by, at, return_note=""):
    """Record that a machine is back. Raise RegisterRefused if it is already, and for a day that cannot be."""
    today = away.machine.site.date_of(at)
    if not away.from_date <= returned_on <= today:
        raise RegisterRefused(
            f"{day_text(returned_on)} cannot be the day of return. Accepted: {day_text(away.from_date)}, when it left, "
            f"to today, {day_text(today)}."
        )
    back = {"returned_on": returned_on, "return_note": return_note.strip()[:300], "returned_by": by, "returned_at": at}
    with recording(away, by=by, at=at):
        if not AwayPeriod.objects.now().filter(pk=away.pk).update(**back):
            raise RegisterRefused(f"{away}: the machine is back already.")
    away.refresh_from_db()
    return away


def _refuse_days(machine, from_date, expected_on, today):
    if not machine.in_use_from <= from_date <= today:
        raise RegisterRefused(
            f"{day_text(from_date)} cannot be the day on which it left. Accepted: {day_text(machine.in_use_from)}, the "
            f"first day of machine {machine}, to today, {day_text(today)}."
        )
    if expected_on < from_date:
        raise RegisterRefused(
            f"{day_text(expected_on)} is before the day on which it left. Enter {day_text(from_date)} or a later day."
        )


def _refuse_overlap(machine, from_date):
    earlier = AwayPeriod.objects.filter(machine=machine)
    lasting = earlier.now().first()
    if lasting:
        raise RegisterRefused(
            f"Machine {machine} is away already: {lasting.get_kind_display().lower()}, {lasting.to_whom}. Take it back "
            "first."
        )
    over = earlier.filter(returned_on__gt=from_date).first()
    if over:
        raise RegisterRefused(
            f"Machine {machine} was away until {day_text(over.returned_on)}. Enter that day or a later one."
        )
