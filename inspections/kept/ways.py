"""Which machines a written row concerns."""

from django.db import DEFAULT_DB_ALIAS

from fleet.acting.covered import columns_of
from fleet.acting.keys import conditions_on
from fleet.models import Machine


def itself(before, using):
    return set(before)


def of_rows(model, column):
    """Return the way from rows of `model` to the machines that they name now; such a row never names another."""
    return lambda before, using: values_of(model, "pk", before, column, using)


def moving(model):
    """Return the way from rows of `model` to the machines that they named before and those that they name now."""

    def way(before, using):
        place = columns_of(model).index("machine_id")
        was = {int(state[place]) for state in before.values() if state is not None}
        return was | values_of(model, "pk", before, "machine", using)

    return way


def machines_with(path):
    """Return the way from rows to the machines that have one of them at `path`."""
    return lambda before, using: values_of(Machine, path, before, "pk", using)


def values_of(model, path, keys, column, using=DEFAULT_DB_ALIAS):
    """Return the values of a column in the rows whose `path` is one of the keys."""
    found = set()
    for condition in conditions_on(path, keys):
        rows = model._base_manager.using(using).filter(**condition)
        found.update(rows.order_by().values_list(column, flat=True).distinct())
    found.discard(None)
    return found
