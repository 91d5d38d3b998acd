"""Fit and remove parts, with dates, so that the circuit of any past day can be asked for."""

from django.db import IntegrityError, transaction

from fleet.changes import record_created, recording
from fleet.errors import ComponentRefused
from fleet.models import Component, Link


def fit_component(machine, *, kind, label, fitted_on, by, at, gas="", **details):
    """Record a part fitted on a date. Raise ComponentRefused if a part of that label is in place already."""
    if fitted_on < machine.in_use_from:
        raise ComponentRefused(
            f"{label} cannot be fitted on {fitted_on}: the register answers for machine {machine} "
            f"from {machine.in_use_from}."
        )
    try:
        with transaction.atomic():
            component = Component.objects.create(
                machine=machine, kind=kind, label=label, gas=gas, fitted_on=fitted_on, **details
            )
            record_created([component], by=by, at=at)
            return component
    except IntegrityError:
        raise ComponentRefused(
            f"Machine {machine} has a part called “{label}” already. Remove that one first or use another name."
        ) from None


@transaction.atomic
def remove_component(component, *, removed_on, by, at):
    """Record that a part and its links were removed on a date. Raise ComponentRefused if it is gone already."""
    if removed_on < component.fitted_on:
        raise ComponentRefused(
            f"{component} was fitted on {component.fitted_on}; it cannot have been removed before that, "
            f"on {removed_on}."
        )
    with recording(component, by=by, at=at):
        if not Component.objects.filter(pk=component.pk, removed_on=None).update(removed_on=removed_on):
            raise ComponentRefused(f"{component} of machine {component.machine} is removed already.")
    for end in ("source", "target"):
        Link.objects.filter(**{end: component}, removed_on=None).update(removed_on=removed_on)
    component.removed_on = removed_on
