"""Enter machines in the register and correct their data."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import timedelta

from django.db import transaction
from django.db.models import DateTimeField, Exists, IntegerField, OuterRef, Q, Value

from fleet.acting.keys import conditions_on, only_condition
from fleet.actions.area_periods import begin_area_periods, follow_area
from fleet.actions.features import record_feature_state
from fleet.changes import record_created, recording
from fleet.errors import RegisterRefused
from fleet.models import (
    AreaPeriod,
    CircuitChange,
    Component,
    Connection,
    Evidence,
    FeatureState,
    Machine,
    MachineStatus,
    ModelFeature,
    State,
    StatusChange,
)
from fleet.models.machines import ENTERING

AT_ONCE = 500
CORRECTABLE = ("asset_number", "serial", "model", "area", "built_year", "in_use_from", "note")


@dataclass(frozen=True)
class Entry:
    """A machine to be registered: its fields, and features that differ from or confirm those of its model."""

    fields: Mapping
    features: Mapping[str, str] = field(default_factory=dict)
    status: str = MachineStatus.IN_SERVICE
    reason: str = "Entered in the register"


def register_machine(*, by, at, **fields):
    """Create a machine in service that starts with the features its model had when new."""
    return register_machines([Entry(fields)], by=by, at=at)[0]


@transaction.atomic
def register_machines(entries, *, by, at, staged=None):
    """Create many machines in a few queries; a feature of an entry overrides the default of its model.

    staged  name of an import: its machines stay hidden until it is complete (fleet/imports/staging.py)
    """
    if not entries:
        return []
    machines = [Machine(**entry.fields, status=entry.status) for entry in entries]
    pairs = list(zip(machines, entries, strict=True))
    if staged:
        for machine, entry in pairs:
            machine.staged, machine.status = f"{staged}:{entry.status}", ENTERING
    Machine.objects.bulk_create(machines, batch_size=AT_ONCE)
    for machine, entry in pairs:
        machine.status = entry.status
    rows = Machine.with_staged.filter(**only_condition("pk", sorted(machine.pk for machine in machines)))
    _begin_statuses(pairs, by=by, at=at)
    begin_area_periods(rows, by=by, at=at)
    own = [state for machine, entry in pairs for state in _own_states(machine, entry, by=by, at=at)]
    FeatureState.objects.bulk_create(own, batch_size=AT_ONCE)
    _take_over_defaults(machines, bool(own), by=by, at=at)
    record_created(machines, by=by, at=at)
    return machines


@transaction.atomic
def correct_machine(machine, *, by, at, **fields):
    """Correct the data of a machine; features that come from the model's default follow a new model.

    A new area counts from today; `move_machine` says from when.

    Raise RegisterRefused when a new first day would cut off recorded history.
    """
    unknown = fields.keys() - set(CORRECTABLE)
    if unknown:
        raise RegisterRefused(f"{', '.join(sorted(unknown))} cannot be corrected. Accepted: {', '.join(CORRECTABLE)}.")
    machine = Machine.objects.select_for_update(no_key=True).select_related("area__site", "model").get(pk=machine.pk)
    changed = {name: value for name, value in fields.items() if getattr(machine, name) != value}
    told = (Component, CircuitChange) if "in_use_from" in changed else ()
    parts = [row for model in told for row in model.objects.filter(machine=machine)]
    with recording(machine, *parts, by=by, at=at):
        if "in_use_from" in changed:
            _move_first_day(machine, changed["in_use_from"])
        for name, value in changed.items():
            setattr(machine, name, value)
        if changed:
            machine.save(update_fields=list(changed))
    if "area" in changed:
        follow_area(machine, by=by, at=at)
    if "model" in changed:
        _follow_model(machine, by=by, at=at)
    return machine


def _begin_statuses(pairs, *, by, at):
    """Put new machines in service, by their entries' reasons, and those whose entry says so out of it again."""
    in_service, others = {}, []
    for machine, entry in pairs:
        if entry.status == MachineStatus.IN_SERVICE:
            in_service.setdefault(entry.reason, []).append(machine.pk)
        else:
            others += _two_statuses(machine, entry, by=by, at=at)
    for reason, keys in in_service.items():
        same = {"status": Value(MachineStatus.IN_SERVICE), "reason": Value(reason), "evidence": Value("")}
        same |= _who_and_when(by, at)
        rows = Machine.with_staged.filter(**only_condition("pk", sorted(keys))).order_by("pk")
        selected = rows.values_list("pk", "in_use_from", *same.values())
        StatusChange.objects.insert_selected(("machine", "changed_on", *same), selected)
    StatusChange.objects.bulk_create(others, batch_size=AT_ONCE)


def _two_statuses(machine, entry, *, by, at):
    """Return two changes, the later of which sorts above the first although both are recorded at once."""
    moments = [
        (MachineStatus.IN_SERVICE, machine.in_use_from, at - timedelta(microseconds=1), entry.reason),
        (entry.status, machine.site.date_of(at), at, f"{entry.reason} as {entry.status}"),
    ]
    return [
        StatusChange(machine=machine, by=by, status=status, changed_on=changed_on, recorded_at=recorded, reason=reason)
        for status, changed_on, recorded, reason in moments
    ]


def _who_and_when(by, at):
    return {"by": Value(by and by.pk, IntegerField()), "recorded_at": Value(at, DateTimeField())}


def _own_states(machine, entry, *, by, at):
    common = {"machine": machine, "from_date": machine.in_use_from, "evidence": Evidence.REGISTER}
    for code, state in entry.features.items():
        yield FeatureState(**common, feature=code, state=state, by=by, recorded_at=at)


def _take_over_defaults(machines, some_have_own, *, by, at):
    """Give new machines the features of their models, except those that are recorded of the machine itself."""
    keys, held = sorted(machine.pk for machine in machines), FeatureState.objects
    own = Exists(held.filter(machine=OuterRef("model__machines"), feature=OuterRef("feature")))
    without_own = (~own,) if some_have_own else ()
    same = {"evidence": Value(Evidence.MODEL_DEFAULT), "note": Value(""), **_who_and_when(by, at)}
    taken = ("model__machines", "feature", "state", "model__machines__in_use_from")
    for condition in conditions_on("model__machines", keys):
        # In one filter, since a second one would be about other machines of the model.
        rows = ModelFeature.objects.filter(*without_own, **condition).order_by("model__machines", "pk")
        FeatureState.objects.insert_selected(
            ("machine", "feature", "state", "from_date", *same), rows.values_list(*taken, *same.values())
        )


def _move_first_day(machine, day):
    """Move the periods that began on the machine's first day to the new first day."""
    old = machine.in_use_from
    rows = (
        (FeatureState.objects, "from_date", "until_date"),
        (Component.objects, "fitted_on", "removed_on"),
        (Connection.objects, "fitted_on", "removed_on"),
        (CircuitChange.objects, "changed_on", None),
        (StatusChange.objects, "changed_on", None),
        (AreaPeriod.objects, "from_date", "until_date"),
    )
    for manager, start, end in rows:
        of_machine = manager.filter(machine=machine)
        cut_off = of_machine.exclude(**{start: old}).filter(**{f"{start}__lt": day})
        if end:
            # An area period has a day at least; the others can end on the day on which they begin.
            ended = f"{end}__lte" if manager.model is AreaPeriod else f"{end}__lt"
            cut_off |= of_machine.filter(**{start: old, ended: day})
        if cut_off.exists():
            raise RegisterRefused(
                f"Machine {machine} has recorded history before {day}. Enter a first day of use that is not "
                "later than the history."
            )
        of_machine.filter(**{start: old}).update(**{start: day})


def _follow_model(machine, *, by, at):
    """Replace the defaults of the old model by those of the new one, from the first day on."""
    defaults = {row.feature: row.state for row in machine.model.features.all()}
    held = FeatureState.objects.filter(Q(until_date__isnull=True), machine=machine)
    own = set(held.exclude(evidence=Evidence.MODEL_DEFAULT).values_list("feature", flat=True))
    inherited = {row.feature: row.state for row in held.filter(evidence=Evidence.MODEL_DEFAULT)}
    for code in (defaults.keys() | inherited.keys()) - own:
        state = defaults.get(code, State.NOT_KNOWN)
        if inherited.get(code) != state:
            record_feature_state(
                machine,
                code,
                state,
                from_date=machine.in_use_from,
                evidence=Evidence.MODEL_DEFAULT,
                by=by,
                at=at,
                note=f"Model corrected to {machine.model}",
            )
