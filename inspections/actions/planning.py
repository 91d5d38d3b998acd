"""Plan, book and void inspections, and plan what falls due."""

from django.db import transaction
from django.utils import timezone

from fleet.acting.scope import acting
from fleet.changes import record_created
from fleet.models import Machine, MachineStatus
from fleet.web.at_site import day_words
from fleet.work_progress import tell_nobody
from inspections.actions.holding import hold_procedures
from inspections.actions.planning_rules import carry_out_rules
from inspections.actions.procedures import begin_versions
from inspections.actions.stages import change_stage
from inspections.at_bench.presence import bench_in_words
from inspections.concurrent_edits import NOT_TOLD
from inspections.errors import StageRefused
from inspections.models import Inspection, Procedure, Stage
from inspections.models.querysets.inspections import due_window, machines_without_open
from inspections.schedule.competence import reasons_against
from inspections.schedule.rhythms import rhythm_on, tables_in_force, traits_of
from inspections.schedule.rule_effects import last_done_on

NOT_BEGUN = (Stage.PLANNED, Stage.BOOKED)
PLANNED_AT_ONCE = 100  # machines in one transaction


@transaction.atomic
def plan_inspection(machine, procedure, *, due_on, by, at, note="", rhythm=None):
    """Plan one inspection of `machine`, due on a date. Raise StageRefused if the machine is retired.

    rhythm  that of the procedure on the machine, if it is known already; its window counts
    """
    if machine.status == MachineStatus.RETIRED:
        raise StageRefused(
            f"Machine {machine} is retired. Inspections are planned only for machines in service or withdrawn from use."
        )
    rhythm = rhythm or rhythm_on(machine, procedure, timezone.localdate(at))
    inspection = _planned(machine, procedure, rhythm, due_on=due_on, by=by, at=at, note=note)
    inspection.save()
    record_created([inspection], by=by, at=at)
    return inspection


@transaction.atomic
def plan_next_inspection(machine, procedure, *, last_done_on, by, at):
    """Plan the next inspection of a procedure that is planned on the machine, unless one is open already.

    Return it or None. The interval is that of the planning rule that wins there, else that of the procedure itself.
    """
    rhythm = _rhythm_to_plan(machine, procedure, at)
    if rhythm is None:
        return None
    due_on = rhythm.interval.after(last_done_on)
    return plan_inspection(machine, procedure, due_on=due_on, by=by, at=at, rhythm=rhythm)


@transaction.atomic
def plan_again(inspection, *, by, at):
    """Plan an incomplete inspection once more, with its own due date and window. Return it or None.

    Nothing is planned where one of the procedure is open already, where the procedure is not planned at an interval,
    and for a retired machine.
    """
    machine, procedure = inspection.machine, inspection.procedure
    rhythm = _rhythm_to_plan(machine, procedure, at)
    if rhythm is None:
        return None
    again = _planned(
        machine, procedure, rhythm, due_on=inspection.due_on, by=by, at=at, note=f"{inspection} was incomplete."
    )
    again.opens_on, again.closes_on = inspection.opens_on, inspection.closes_on
    again.save()
    record_created([again], by=by, at=at)
    return again


def _rhythm_to_plan(machine, procedure, at):
    """The rhythm of a procedure on a machine, None where nothing is to be planned; holds the procedure."""
    if machine.status == MachineStatus.RETIRED:
        return None
    hold_procedures([procedure.pk])
    rhythm = rhythm_on(machine, procedure, timezone.localdate(at))
    opened = Inspection.objects.open().filter(machine=machine, procedure=procedure, retests=None)
    return rhythm if rhythm.is_planned and not opened.exists() else None


def plan_due_inspections(*, today, at, by=None, tell=tell_nobody):
    """Plan, for every machine that is not retired, the next inspection of each procedure that is planned there.

    The planning rule that wins on a machine says so, else the interval of the procedure. What was recorded elsewhere
    counts where somebody chose that it does (fleet.EarlierInspection). A machine never inspected by a procedure is due
    the interval after the register began to answer for it, or today if that is past. Each batch of machines is an
    action and a transaction of its own, so that nobody who plans waits for all of them, and a run that is ended leaves
    what it has planned. Safe to repeat: a machine with an open inspection of a procedure gets no second one, and is not
    read. Return how many were planned.

    tell  function of the number of batches done, their total and words, called between transactions
    """
    begin_versions(on=today)
    carry_out_rules(today=today, by=by, at=at)
    batches = _batches_to_plan(today)
    planned = 0
    for done, (procedure, pks) in enumerate(batches):
        tell(done, len(batches), "Planning due inspections")
        with acting(plan_due_inspections.__name__, by=by and by.pk, at=at):
            planned += _plan_batch(procedure, pks, today=today, at=at, by=by)
    return planned


def _batches_to_plan(today):
    """Return pairs of a procedure that is planned somewhere and keys of machines without an open inspection of it."""
    begun = list(Procedure.objects.begun(today))
    tables = tables_in_force(begun, today)
    machines = Machine.objects.not_retired().order_by("pk")
    found = []
    for procedure in begun:
        if tables[procedure.pk].plans_anywhere:
            keys = list(machines_without_open(machines, procedure).values_list("pk", flat=True))
            found += [
                (procedure, keys[first : first + PLANNED_AT_ONCE]) for first in range(0, len(keys), PLANNED_AT_ONCE)
            ]
    return found


@transaction.atomic
def _plan_batch(procedure, pks, *, today, at, by):
    hold_procedures([procedure.pk])
    table = tables_in_force([procedure], today)[procedure.pk]
    machines = list(machines_without_open(Machine.objects.not_retired().with_place().filter(pk__in=pks), procedure))
    traits = traits_of(machines, table.features, today)
    rhythms = [(machine, table.rhythm(traits[machine.pk])) for machine in machines]
    planned = [
        _planned(machine, procedure, rhythm, due_on=_first_due_on(machine, rhythm, today), by=by, at=at)
        for machine, rhythm in rhythms
        if rhythm.is_planned
    ]
    record_created(Inspection.objects.bulk_create(planned), by=by, at=at)
    return len(planned)


def _planned(machine, procedure, rhythm, *, due_on, by, at, note=""):
    opens_on, closes_on = due_window(due_on, rhythm.window_days)
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


def _first_due_on(machine, rhythm, today):
    done_on = last_done_on(machine, machine.site)
    if done_on:
        return rhythm.not_before(rhythm.interval.after(done_on))
    return max(rhythm.interval.after(machine.in_use_from), today)


@transaction.atomic
def book_inspection(inspection, *, technician, booked_on, by, at, seen=NOT_TOLD):
    """Place an inspection on a technician and a day, or move it.

    seen  when it was last booked as far as `by` has seen, None for never

    Raise StageRefused once it is in progress, with who started it and when; once it is done; and if somebody else
    booked it meanwhile; and where the site demands a competence that the technician has not on that day.
    """
    held = Inspection.objects.select_for_update(no_key=True).get(pk=inspection.pk)
    if seen is not NOT_TOLD and held.booked_at != seen and held.booked_by_id != by.pk:
        raise StageRefused(
            f"{held.booked_by} booked {inspection} for {held.technician} on {day_words(held.booked_on)} while this "
            "page was open. Send the form again to move it anyway."
        )
    if reasons := reasons_against([inspection], technician, booked_on):
        raise StageRefused(" ".join(reasons))
    booking = {"technician": technician, "booked_on": booked_on, "booked_by": by, "booked_at": at}
    _change_before_bench(inspection, Stage.BOOKED, by=by, at=at, **booking)


@transaction.atomic
def book_inspections(inspections, *, technician, booked_on, by, at):
    """Book several inspections on one technician and day, all or none. Raise StageRefused if one cannot be."""
    for inspection in inspections:
        book_inspection(inspection, technician=technician, booked_on=booked_on, by=by, at=at)


@transaction.atomic
def unbook_inspection(inspection, *, by, at):
    """Take the technician and the day from a booked inspection: it is planned again. Raise StageRefused once begun."""
    nobody = {"technician": None, "booked_on": None, "booked_by": None, "booked_at": None}
    change_stage(inspection, Stage.PLANNED, out_of=(Stage.BOOKED,), by=by, at=at, **nobody)


@transaction.atomic
def void_inspection(inspection, *, reason, by, at, although_in_progress=False):
    """Void an inspection that is not signed; its readings stay. Raise StageRefused without a reason or once signed.

    One in progress is voided only by somebody who knows that it is: with `although_in_progress`. Else StageRefused
    says who has it there since when.
    """
    if not reason.strip():
        raise StageRefused(f"{inspection} can only be voided with a reason. State why it does not count.")
    change = change_stage if although_in_progress else _change_before_bench
    change(inspection, Stage.VOID, by=by, at=at, void_reason=reason.strip(), voided_by=by, voided_at=at)


def _change_before_bench(inspection, to, **fields):
    try:
        change_stage(inspection, to, out_of=NOT_BEGUN, **fields)
    except StageRefused as error:
        raise StageRefused(f"{error} {bench_in_words(inspection)}".strip()) from None
