"""Single causes of a circuit, and pairs of them."""

from dataclasses import replace

import pytest

from fleet.catalogue import FEATURES
from fleet.circuit.causes import causes_of, pair_of, pairs_of
from fleet.circuit.cover_rows import CauseGroup
from fleet.circuit.elements import element_for
from fleet.circuit.elements.base import Condition
from fleet.circuit.state import Fault, Likelihood
from fleet.circuit.structure import Port
from fleet.circuit.usual_states import ordinary_state
from tests.fleet.circuit.demo_machines import NAMES, NEWEST, OXYGEN_SHUT, cause, machine


@pytest.mark.parametrize("name", NAMES)
def test_every_way_of_every_component_to_fail_is_a_cause(name):
    circuit = machine(name)
    told = {fault for each in causes_of(circuit) for fault in each.faults}
    ways = {Fault(p.code, mode) for p in circuit.components for mode in element_for(p, Condition()).failures}
    assert told == ways


@pytest.mark.parametrize("name", NAMES)
def test_codes_and_titles_are_given_once_and_name_what_there_is(name):
    circuit = machine(name)
    causes = causes_of(circuit)
    assert len({each.code for each in causes}) == len({each.title for each in causes}) == len(causes)
    codes = {component.code for component in circuit.components}
    for each in causes:
        assert each.state.settings.keys() <= codes and {fault.component for fault in each.faults} <= codes
        assert set(each.prevented_by) <= FEATURES.keys()
        assert each.state.cut <= set(circuit.connections)


def test_ordinary_use_is_the_first_cause_and_a_way_of_use():
    first = causes_of(machine())[0]
    assert (first.group, first.state, first.faults) == (CauseGroup.USE, ordinary_state(machine()), ())


def test_the_oxygen_control_shut_by_a_sleeve_is_what_a_guard_prevents():
    by_decision, by_sleeve = cause(OXYGEN_SHUT), cause("oxygen-shut-by-a-sleeve-nitrous-oxide-on")
    assert by_decision.state == by_sleeve.state
    assert (by_decision.prevented_by, by_sleeve.prevented_by) == ((), ("control-guard",))


def test_a_hose_on_the_wrong_inlet_is_prevented_and_the_wrong_gas_in_the_pipe_is_not():
    swapped, crossed = cause("oxygen-inlet-hose-of-nitrous-oxide"), cause("oxygen-inlet-carries-nitrous-oxide")
    assert (swapped.prevented_by, crossed.prevented_by) == (("pipeline-gas-specific",), ())
    assert swapped.state.of("nitrous-oxide-inlet")["supply_gas"] == "oxygen"
    assert crossed.state.of("nitrous-oxide-inlet")["supply_gas"] == "nitrous-oxide"


def test_two_hoses_swapped_are_told_of_once():
    titles = [each.title for each in causes_of(machine()) if "hoses of" in each.title.lower()]
    assert len(titles) == 3  # of three gases


def test_a_regulator_fails_while_its_cylinder_is_open():
    found = [each.state for each in causes_of(machine()) if Fault("oxygen-regulator", "creeping") in each.faults]
    assert found and all(state.of("oxygen-yoke")["is_open"] == 1 for state in found)
    assert {state.of("oxygen-inlet")["supply_gas"] for state in found} == {"", "oxygen"}


def test_the_bag_comes_off_while_it_is_in_use():
    for name in ("aldane-20", NEWEST):
        off = cause("selector-bag-bag-in-off", name)
        assert off.state.of("selector")["position"] == "bag" and len(off.state.cut) == 1


def test_only_a_hose_comes_off():
    circuit = machine()
    inside = {connection for each in causes_of(circuit) for connection in each.state.cut}
    assert inside and all(connection.size or "hose" in str(connection) for connection in inside)
    assert Port("oxygen-control", "out") not in {connection.source for connection in inside}


def test_a_swap_leaves_no_end_open():
    swaps = [each for each in causes_of(machine()) if each.state.made]
    assert swaps
    for each in swaps:
        ends = sorted(port for connection in each.state.cut for port in (connection.source, connection.target))
        assert ends == sorted(port for connection in each.state.made for port in (connection.source, connection.target))
        assert each.prevented_by == ("scavenging-30mm",)


def test_a_second_control_of_a_gas_may_be_left_open():
    circuit = machine()
    second = replace(circuit.component("oxygen-control"), code="oxygen-control-fine", label="Fine oxygen control")
    doubled = replace(circuit, components=(*circuit.components, second))
    assert "second-control-oxygen-control-fine" in {each.code for each in causes_of(doubled)}


def test_a_pair_holds_both_and_is_as_likely_as_the_rarer():
    ordinary = ordinary_state(machine())
    one, other = cause("oxygen-inlet-lost"), cause("nitrous-oxide-cut-off-valve-stuck-open")
    pair = pair_of(one, other, ordinary)
    assert pair.components_of == (one.code, other.code) and pair.faults == other.faults
    assert pair.state.of("oxygen-inlet")["supply_gas"] == ""
    common = pair_of(cause("flow-bank-leaking"), other, ordinary)
    assert cause("flow-bank-leaking").likelihood is Likelihood.COMMON
    assert pair.likelihood is common.likelihood is Likelihood.OCCASIONAL
    assert pair.title.startswith("Oxygen pipeline supply fails; and nitrous oxide cut-off valve")


@pytest.mark.parametrize(
    ("one", "other"),
    [
        ("oxygen-inlet-lost", "oxygen-inlet-lost"),  # the same
        ("oxygen-inlet-lost", "oxygen-inlet-carries-air"),  # one setting twice
        ("flow-bank-leaking", "flow-bank-leaking"),
        ("oxygen-control-stuck-open", "oxygen-control-stuck-shut"),  # one component twice
        (OXYGEN_SHUT, "oxygen-shut-by-a-sleeve-nitrous-oxide-on"),  # the second adds nothing
        ("outlet-out-fresh-gas-hose-in-off", "outlet-out-fresh-gas-hose-in-off"),
    ],
)
def test_what_cannot_come_about_together_is_no_pair(one, other):
    assert pair_of(cause(one), cause(other), ordinary_state(machine())) is None


def test_pairs_are_those_of_the_likelihood_asked_for():
    circuit = machine()
    common = pairs_of(circuit)
    single = {each.code: each for each in causes_of(circuit)}
    assert common and len(common) < len(pairs_of(circuit, Likelihood.OCCASIONAL))
    for pair in common:
        assert {single[code].likelihood for code in pair.components_of} == {Likelihood.COMMON}
    assert len({frozenset(pair.components_of) for pair in common}) == len(common)
