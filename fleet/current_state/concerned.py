"""Which machines a written row concerns. Each model on which the current state rests is declared once."""

from fleet.acting.covered import columns_of
from fleet.acting.keys import conditions_on
from fleet.models import AwayPeriod, FeatureState, Machine, MachineModel

_ways = {}


def rests_on_rows_of(model):
    """Declare that the current state of a machine rests on the rows of `model` that name it in `machine`."""
    _ways[model] = lambda before, using: _named(model, before, using)


def concerned(written, using):
    """Return the keys of the machines whose current state may have changed.

    written  model -> key -> state before, as a Scope collects it
    """
    return {pk for model, before in written.items() if model in _ways for pk in _ways[model](before, using)}


def is_concerned(model):
    return model in _ways


def _named(model, before, using):
    """Return the machines that the rows named before they were written, and those that they name now."""
    place = columns_of(model).index("machine_id")
    was = {int(state[place]) for state in before.values() if state is not None}
    return was | _values(model._base_manager.using(using), "pk", before, "machine_id")


def _of_model(before, using):
    return _values(Machine.objects.using(using), "model", before, "pk")


def _values(rows, path, keys, column):
    found = set()
    for condition in conditions_on(path, keys):
        found.update(rows.filter(**condition).order_by().values_list(column, flat=True).distinct())
    return found


_ways[Machine] = lambda before, using: before
_ways[MachineModel] = _of_model
rests_on_rows_of(FeatureState)
rests_on_rows_of(AwayPeriod)
