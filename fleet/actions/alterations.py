"""Plan one alteration on many machines, carry it out on each, or leave a machine out."""

from django.db import transaction

from fleet.actions.circuit_alteration import alter_circuit
from fleet.actions.features import record_feature_state
from fleet.actions.money import checked_amount
from fleet.actions.status import withdraw_machine
from fleet.changes import record_created, recording
from fleet.circuit.alterations import CannotBeAltered, altered
from fleet.circuits.machine_circuit import circuit_of
from fleet.errors import AlterationRefused
from fleet.extensions import tell_altered
from fleet.models import AlterationOfMachine, AlterationPlan, Evidence, Machine, MachineStatus, State

BATCH = 500
MOST_MACHINES = 5000
ALTERED = AlterationOfMachine.State


@transaction.atomic
def plan_alteration(*, machines, by, at, kind, agent="", price_each=None, currency="", price_source="", **fields):
    """Plan an alteration on machines. Raise AlterationRefused without machines, and for a price without its source."""
    plan = AlterationPlan(
        kind=kind, agent=agent, currency=currency, price_source=price_source.strip(), by=by, at=at, **fields
    )
    if plan.entry.needs_agent != bool(agent):
        needs = "names the agent that is withdrawn" if plan.entry.needs_agent else "names no agent"
        raise AlterationRefused(f"The alteration “{plan.entry}” {needs}. Correct the field Agent.")
    if price_each is not None:
        if not (currency and plan.price_source):
            raise AlterationRefused("State the currency of the price, and where it is from, with its date.")
        plan.price_each = checked_amount(price_each, currency)
    plan.save(force_insert=True)
    record_created([plan], by=by, at=at)
    add_to_alteration(plan, machines, by=by, at=at)
    return plan


@transaction.atomic
def add_to_alteration(plan, machines, *, by, at):
    """Add machines that are not in the plan yet and not retired. Return their number; refuse if there is none."""
    AlterationPlan.objects.select_for_update(no_key=True).get(pk=plan.pk)
    known = set(plan.machines.values_list("machine", flat=True))
    new = [machine for machine in machines if machine.pk not in known and machine.status != MachineStatus.RETIRED]
    if not new:
        raise AlterationRefused("No machine of this choice can be added: each is in the plan already, or is retired.")
    if len(known) + len(new) > MOST_MACHINES:
        raise AlterationRefused(
            f"These are {len(known) + len(new)} machines; one plan takes {MOST_MACHINES}. Narrow the filter."
        )
    rows = [AlterationOfMachine(plan=plan, machine=machine) for machine in new]
    record_created(AlterationOfMachine.objects.bulk_create(rows, batch_size=BATCH), by=by, at=at)
    return len(rows)


@transaction.atomic
def carry_out_alteration(
    row, *, done_on, evidence, by, at, minutes=None, cost=None, currency="", seen=None
):  # fmt: skip
    """Record that a machine was altered: its circuit, its safety features, and that it waits for a retest.

    A machine in service is withdrawn from use; the release rules say what the retest must prove. Raise
    AlterationRefused if somebody settled it before, if the circuit does not allow it, and without evidence;
    CircuitOvertaken if the circuit is not the version `seen`.
    """
    machine, plan = _held_machine(row), row.plan
    _refuse_carrying_out(plan, done_on, evidence)
    cost = None if cost is None else checked_amount(cost, currency)
    fields = {"done_on": done_on, "evidence": evidence.strip(), "minutes": minutes, "cost": cost}
    fields |= {"state": ALTERED.DONE, "currency": currency if cost is not None else ""}
    words = f"{plan.title}: {plan.in_words}"
    with recording(row, by=by, at=at):
        _settle(row, fields, by=by, at=at)
        change = _alter(machine, plan, words, on=done_on, evidence=evidence, by=by, at=at, seen=seen)
        AlterationOfMachine.objects.filter(pk=row.pk).update(change=change)
    _record_features(machine, plan, evidence, on=done_on, by=by, at=at)
    if machine.status == MachineStatus.IN_SERVICE:
        withdraw_machine(machine, reason=f"Altered: {words}. It waits for its retest."[:300], by=by, at=at)
    tell_altered(machine, words, by=by, at=at)
    row.refresh_from_db()
    return row


@transaction.atomic
def leave_out_of_alteration(row, *, reason, by, at):
    """Leave a machine out with a reason. Raise AlterationRefused if somebody settled it before."""
    if not reason.strip():
        raise AlterationRefused(f"State why machine {row.machine} is left out.")
    with recording(row, by=by, at=at):
        _settle(row, {"state": ALTERED.LEFT_OUT, "reason": reason.strip()}, by=by, at=at)
    row.refresh_from_db()
    return row


@transaction.atomic
def take_up_alteration_again(row, *, by, at):
    """Plan the alteration again on a machine that was left out."""
    fields = {"state": ALTERED.PLANNED, "reason": "", "settled_by": None, "settled_at": None}
    with recording(row, by=by, at=at):
        if not AlterationOfMachine.objects.filter(pk=row.pk, state=ALTERED.LEFT_OUT).update(**fields):
            row.refresh_from_db()
            raise AlterationRefused(f"Machine {row.machine} is {row.get_state_display().lower()}, not left out.")
    row.refresh_from_db()
    return row


def _refuse_carrying_out(plan, done_on, evidence):
    if not evidence.strip():
        raise AlterationRefused("State the evidence: the work order, what was fitted, or what was seen on the machine.")
    if done_on < plan.from_date:
        raise AlterationRefused(f"“{plan}” is planned from {plan.from_date}. Enter that day or a later one.")


def _held_machine(row):
    machine = Machine.objects.select_for_update(no_key=True, of=("self",)).with_place().get(pk=row.machine_id)
    if machine.status == MachineStatus.RETIRED:
        raise AlterationRefused(f"Machine {machine} is retired. Leave it out with that reason.")
    return machine


def _settle(row, fields, *, by, at):
    """Compare and set: of two people one settles the machine."""
    planned = AlterationOfMachine.objects.filter(pk=row.pk, state=ALTERED.PLANNED)
    if not planned.update(**fields, settled_by=by, settled_at=at):
        row.refresh_from_db()
        raise AlterationRefused(
            f"Machine {row.machine} is {row.get_state_display().lower()} already, by {row.settled_by}. "
            "Nothing was saved."
        )


def _alter(machine, plan, words, *, on, evidence, by, at, seen):
    """Change the recorded circuit; None if no circuit is recorded, so that only the safety features change."""
    before = circuit_of(machine, machine.site.date_of(at)).circuit
    if before is None:
        return None
    try:
        after = altered(before, plan.entry, plan.agent)
    except CannotBeAltered as refused:
        raise AlterationRefused(f"Machine {machine} cannot be altered so. {refused}") from None
    return alter_circuit(machine, before, after, words=words, on=on, evidence=evidence[:300], by=by, at=at, seen=seen)


def _record_features(machine, plan, evidence, *, on, by, at):
    for feature, is_fitted in plan.entry.features_after.items():
        record_feature_state(
            machine,
            feature,
            State.FITTED if is_fitted else State.NOT_FITTED,
            from_date=on,
            evidence=Evidence.RETROFIT,
            note=evidence[:300],
            by=by,
            at=at,
        )
