"""Plan, book and void inspections, and plan what falls due."""

from dateutil.relativedelta import relativedelta
from django.db import transaction

from fleet.changes import record_created
from fleet.models import Duty, Machine
from inspections.actions.stages import change_stage
from inspections.errors import StageRefused
from inspections.models import Inspection, Procedure, Stage
from inspections.querysets import due_window, machines_without_open


@transaction.atomic
def plan_inspection(machine, procedure, *, due_on, by, at, note=""):
    """Plan one inspection of `machine`, due on a date. Raise StageRefused if the machine is retired."""
    if machine.duty == Duty.RETIRED:
        raise StageRefused(
            f"Machine {machine} is retired. Inspections are planned for machines in service or withdrawn."
        )
    inspection = _planned(machine, procedure, due_on=due_on, by=by, at=at, note=note)
    inspection.save()
    record_created([inspection], by=by, at=at)
    return inspection


@transaction.atomic
def plan_next_inspection(machine, procedure, *, last_done_on, by, at):
    """Plan the next inspection of a procedure with an interval, unless one is open already. Return it or None."""
    if procedure.interval_months is None or machine.duty == Duty.RETIRED:
        return None
    if Inspection.objects.open().filter(machine=machine, procedure=procedure, retests=None).exists():
        return None
    due_on = last_done_on + relativedelta(months=procedure.interval_months)
    return plan_inspection(machine, procedure, due_on=due_on, by=by, at=at)


@transaction.atomic
def plan_due_inspections(*, today, at, by=None):
    """Plan, for every machine that is not retired, the next inspection of each procedure with an interval.

    A machine never inspected by a procedure is due the interval after the register began to answer for it, or today if
    that is past. Safe to repeat: a machine with an open inspection of a procedure gets no second one. Return how many
    were planned.
    """
    planned = []
    for procedure in Procedure.objects.filter(interval_months__isnull=False):
        machines = machines_without_open(Machine.objects.not_retired().with_place(), procedure)
        for machine in machines.iterator(chunk_size=500):
            due_on = _first_due_on(machine, procedure, today)
            planned.append(_planned(machine, procedure, due_on=due_on, by=by, at=at))
    record_created(Inspection.objects.bulk_create(planned, batch_size=500), by=by, at=at)
    return len(planned)


def _planned(machine, procedure, *, due_on, by, at, note=""):
    opens_on, closes_on = due_window(due_on, procedure.window_days)
    return Inspection(
        machine=machine,
        procedure=procedure,
        due_on=due_on,
        opens_on=opens_on,
        closes_on=closes_on,
        planned_by=by,
        planned_at=at,
        note=note,
    )


def _first_due_on(machine, procedure, today):
    interval = relativedelta(months=procedure.interval_months)
    if machine.last_signed_at:
        return machine.site.date_of(machine.last_signed_at) + interval
    return max(machine.in_use_from + interval, today)


@transaction.atomic
def book_inspection(inspection, *, technician, booked_on, by, at):
    """Place an inspection on a technician and a day, or move it. Raise StageRefused once it is on the bench or done."""
    change_stage(
        inspection, Stage.BOOKED, by=by, at=at, technician=technician, booked_on=booked_on, booked_by=by, booked_at=at
    )


@transaction.atomic
def book_inspections(inspections, *, technician, booked_on, by, at):
    """Book several inspections on one technician and day, all or none. Raise StageRefused if one cannot be."""
    for inspection in inspections:
        book_inspection(inspection, technician=technician, booked_on=booked_on, by=by, at=at)


@transaction.atomic
def void_inspection(inspection, *, reason, by, at):
    """Void an inspection that is not signed; its readings stay. Raise StageRefused without a reason or once signed."""
    if not reason.strip():
        raise StageRefused(f"{inspection} can only be voided with a reason. Say why it does not count.")
    change_stage(inspection, Stage.VOID, by=by, at=at, void_reason=reason.strip(), voided_by=by, voided_at=at)
