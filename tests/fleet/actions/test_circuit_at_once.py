"""Two people change the circuit of one machine at the same moment, on the database of the suite."""

import pytest

from fleet.actions import fit_component, replace_component, undo_circuit_change
from fleet.actions.circuit_edit import circuit_version
from fleet.circuit.structure import Port
from fleet.circuits.machine_circuit import circuit_of
from fleet.errors import CircuitOvertaken
from fleet.models import CircuitChange, Component
from tests.factories import NOON, TODAY, make_machine, make_model
from tests.fleet.circuit_texts import SMALL
from tests.inspections.test_two_at_once import at_once, refused

BETWEEN = [(Port("vaporizer", "out"), Port("outlet", "in"), "in", "out")]


@pytest.fixture
def machine(transactional_db):
    return make_machine(model=make_model(circuit=SMALL))


def insert(machine, label, **more):
    common = {"kind": "check-valve", "fitted_on": TODAY, "by": None, "at": NOON}
    return lambda: fit_component(machine, label=label, between=BETWEEN, **common, **more)


def test_one_of_two_first_changes_is_made_and_the_model_is_written_down_once(machine):
    seen = circuit_version(machine)
    results = at_once(insert(machine, "One", seen=seen), insert(machine, "Other", seen=seen))
    assert [type(one) for one in refused(results)] == [CircuitOvertaken]
    assert CircuitChange.objects.filter(verb="copied").count() == 1
    assert Component.objects.filter(machine=machine, removed_on=None).count() == 10


def test_one_connection_takes_one_of_two_components(machine):
    results = at_once(insert(machine, "One"), insert(machine, "Other"))
    assert len(refused(results)) == 1 and "are not connected" in str(refused(results)[0])
    assert circuit_of(machine, TODAY).problems == ()


def test_a_change_is_undone_by_one_of_two(machine):
    replace_component(machine, "vaporizer", on=TODAY, by=None, at=NOON)
    change = CircuitChange.objects.get(verb="replaced")
    results = at_once(*[lambda: undo_circuit_change(change, reason="Wrong", by=None, at=NOON)] * 2)
    assert len(refused(results)) == 1
    assert Component.objects.filter(code="vaporizer", removed_on=None).count() == 1
