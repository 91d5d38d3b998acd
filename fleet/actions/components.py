"""Record components as fitted and removed, with dates, so that the circuit of any past day can be read."""

from django.db import IntegrityError, transaction

from fleet.actions.circuit import insert_component
from fleet.changes import record_created, recording
from fleet.errors import ComponentRefused
from fleet.models import CircuitChange, Component, Connection
from fleet.models.components import free_code


def fit_component(machine, *, kind, label, fitted_on, by, at, gas="", joins=None, between=(), **details):
    """Record a component fitted on a date. Raise ComponentRefused if one of that label is in place already.

    With `joins` or `between` it is inserted into the machine's circuit (`insert_component`); use `joins={}` for a
    component that carries no gas. Without them it is recorded unconnected, as from a list of components.
    """
    if joins is not None or between:
        common = {"by": by, "at": at, "gas": gas, **details}
        return insert_component(
            machine, kind=kind, label=label, fitted_on=fitted_on, joins=joins, between=between, **common
        )
    if fitted_on < machine.in_use_from:
        raise ComponentRefused(
            f"{label} cannot be fitted on {fitted_on}: the register of machine {machine} "
            f"starts on {machine.in_use_from}."
        )
    details.setdefault("code", _code(machine, label))
    try:
        with transaction.atomic():
            component = Component.objects.create(
                machine=machine, kind=kind, label=label, gas=gas, fitted_on=fitted_on, **details
            )
            record_created([component], by=by, at=at)
            return component
    except IntegrityError:
        raise ComponentRefused(
            f"Machine {machine} already has a component called “{label}”. Remove that one first or use another name."
        ) from None


@transaction.atomic
def remove_component(component, *, removed_on, by, at, evidence=""):
    """Record a component and its connections as removed on a date. Raise ComponentRefused if it was removed before."""
    if removed_on < component.fitted_on:
        raise ComponentRefused(
            f"{component} was fitted on {component.fitted_on}; it cannot have been removed before that, "
            f"on {removed_on}."
        )
    change = CircuitChange.objects.create(
        machine=component.machine,
        verb=CircuitChange.Verb.REMOVED,
        changed_on=removed_on,
        words=f"{component} removed",
        evidence=evidence,
        by=by,
        recorded_at=at,
    )
    record_created([change], by=by, at=at)
    gone = {"removed_on": removed_on, "removed_in": change}
    with recording(component, by=by, at=at):
        if not Component.objects.filter(pk=component.pk, removed_on=None).update(**gone):
            raise ComponentRefused(f"{component} of machine {component.machine} is already removed.")
    for end in ("source", "target"):
        Connection.objects.filter(**{end: component}, removed_on=None).update(**gone)
    component.removed_on = removed_on


def _code(machine, label):
    taken = Component.objects.filter(machine=machine, removed_on=None).exclude(code="").values_list("code", flat=True)
    return free_code(label, set(taken))
