"""The cover table of all causes at once is the one that is found cause by cause by the solver of single states."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fleet.circuit.causes import causes_of, pairs_of
from fleet.circuit.closing import closing_sets
from fleet.circuit.cover import cover_table
from fleet.circuit.files import read_circuit
from fleet.circuit.kit import MACHINE_KINDS, start_of
from fleet.circuit.solved_states import Bench, prepare_together
from fleet.circuit.solver import Asked, solve_all, workshop_of
from fleet.circuit.state import Likelihood
from tests.fleet.circuit.demo_machines import NAMES, OLDEST, machine
from tests.fleet.circuit.oracle.cover import oracle_closing, oracle_table
from tests.fleet.circuit.random_circuits import machines
from tests.fleet.circuit.table_differences import differences


@pytest.mark.parametrize("name", NAMES)
def test_the_table_of_a_demonstration_machine_is_the_same(name):
    circuit = machine(name)
    assert list(differences(cover_table(circuit), oracle_table(circuit))) == []


@pytest.mark.parametrize("code", MACHINE_KINDS)
def test_the_table_of_a_kind_of_the_kit_is_the_same(code):
    circuit = read_circuit(start_of(MACHINE_KINDS[code], title="Kit").circuit)
    causes = causes_of(circuit)[::3]
    assert list(differences(cover_table(circuit, causes=causes), oracle_table(circuit, causes=causes))) == []


def test_the_table_of_pairs_is_the_same():
    pairs = pairs_of(machine(), Likelihood.COMMON)[::40]
    assert pairs
    one, other = (table(machine(), causes=pairs) for table in (cover_table, oracle_table))
    assert list(differences(one, other)) == []


@given(drawn=machines(), data=st.data())
@settings(max_examples=25, deadline=None)
def test_the_table_of_any_machine_is_the_same(drawn, data):
    circuit = drawn[0]
    causes = data.draw(
        st.lists(st.sampled_from(causes_of(circuit)), min_size=1, max_size=4, unique_by=lambda c: c.code)
    )
    assert list(differences(cover_table(circuit, causes=causes), oracle_table(circuit, causes=causes))) == []


@pytest.mark.parametrize("name", [OLDEST, "aldane-20"])
def test_the_closing_sets_of_all_features_at_once_are_those_found_one_by_one(name):
    table = cover_table(machine(name))
    found = closing_sets(machine(name), table)
    assert found and found == oracle_closing(machine(name), table)


@given(drawn=machines(), data=st.data())
@settings(max_examples=10, deadline=None)
def test_the_closing_sets_of_any_machine_are_those_found_one_by_one(drawn, data):
    causes = data.draw(st.lists(st.sampled_from(causes_of(drawn[0])), min_size=1, max_size=6, unique_by=str))
    table = cover_table(drawn[0], causes=causes)
    assert closing_sets(drawn[0], table) == oracle_closing(drawn[0], table)


def test_states_of_a_circuit_and_of_the_same_with_a_feature_more_are_those_solved_apart():
    circuit, altered = machine(), machine(OLDEST, "outlet-relief")
    asked = [(cause.state, cause.faults, frozenset()) for cause in causes_of(circuit)[::7]]
    bench = Bench(circuit)
    other = Bench(altered, near=bench)
    prepare_together([(bench, asked), (other, asked)])
    for one, alone in ((bench, Bench(circuit)), (other, Bench(altered))):
        assert one.solves == len(asked)
        for state, faults, _ in asked:
            seen, by_itself = one.look(state, faults), alone.look(state, faults)
            assert list(differences(seen.seen.figures, by_itself.seen.figures)) == []
            assert (seen.hazards, seen.alarms) == (by_itself.hazards, by_itself.alarms)
        assert one.solves == len(asked)


def test_a_difference_is_found():
    table = cover_table(machine(), causes=causes_of(machine())[:3])
    other = oracle_table(machine(), causes=causes_of(machine())[1:4])
    assert list(differences(table, other))


def test_equal_networks_are_solved_once():
    workshop, causes = workshop_of(machine()), causes_of(machine())
    stuck = [cause for cause in causes if {fault.mode for fault in cause.faults} == {"stuck"}]
    found = solve_all(workshop, [Asked(cause.state, faults) for cause in stuck for faults in (cause.faults, ())])
    assert stuck and all(one.rest is other.rest for one, other in zip(found[::2], found[1::2], strict=True))
    found = solve_all(workshop, [Asked(cause.state, cause.faults) for cause in causes])
    assert len(workshop.known) < len(found) == len(causes)
