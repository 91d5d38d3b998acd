"""Which protections would close what is open."""

from dataclasses import replace
from itertools import chain, combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.catalogue import FEATURES
from fleet.circuit.additions import ADDABLE
from fleet.circuit.closing import candidates, closing_sets, hitting_sets, moved, with_feature
from fleet.circuit.cover import cover_table
from fleet.circuit.derived_features import derived_features
from fleet.circuit.features_present import Protections
from fleet.circuit.network import check_circuit
from fleet.circuit.structure import Connection, Port
from fleet.circuit.usual_states import ordinary_state
from tests.fleet.circuit.demo_machines import NAMES, NEWEST, OLDEST, OXYGEN_SHUT, cause, machine

SOME = (
    OXYGEN_SHUT, "two-dials-vaporizer-1-vaporizer-2", "oxygen-inlet-carries-nitrous-oxide", "dial-off",
    "outlet-out-fresh-gas-hose-in-off",
)  # fmt: skip


@pytest.mark.parametrize("name", NAMES)
def test_a_circuit_with_a_feature_more_is_still_a_circuit_and_has_it(name):
    circuit = machine(name)
    for code in candidates(circuit):
        altered = with_feature(circuit, code)
        assert check_circuit(altered) == ()
        assert code in Protections(altered, ordinary_state(altered)).present


@pytest.mark.parametrize(
    "code",
    ["o2-supply-alarm", "ratio-protection", "vaporizer-exclusion", "o2-analyser", "pipeline-check-valve", "o2-last"],
)
def test_what_was_added_is_shown_by_the_altered_circuit(code):
    circuit = machine()
    assert derived_features(circuit)[code].state == "not fitted"
    assert derived_features(with_feature(circuit, code))[code].state == "fitted"


def test_a_supply_failure_valve_is_put_back_where_it_was_taken_from():
    circuit = machine()
    bare = _without(circuit, "supply-failure-valve")
    assert derived_features(bare)["o2-failure-protection"].state == "not fitted"
    mended = with_feature(bare, "o2-failure-protection")
    assert check_circuit(mended) == ()
    assert derived_features(mended)["o2-failure-protection"].state == "fitted"


def _without(circuit, kind):
    """Take the parts of a kind out of their lines."""
    for component in circuit.of_kind(kind):
        before = next(j for j in circuit.connections if j.target == Port(component.code, "in"))
        after = next(j for j in circuit.connections if j.source == Port(component.code, "out"))
        connections = tuple(j for j in circuit.connections if component.code not in (j.source.component, j.target.component))
        components = tuple(other for other in circuit.components if other.code != component.code)
        circuit = replace(circuit, components=components, connections=(*connections, Connection(before.source, after.target)))
    return circuit


def test_the_newest_machine_has_no_place_for_a_link_between_controls():
    assert with_feature(machine(NEWEST), "ratio-protection") is None
    assert with_feature(machine(), "electronic-mixing") is None


def test_every_addition_is_a_feature_of_the_catalogue():
    assert set(ADDABLE) <= FEATURES.keys() and len(set(ADDABLE)) == len(ADDABLE)


@pytest.fixture(scope="module")
def sets():
    table = cover_table(machine(), causes=[cause(code) for code in SOME])
    return closing_sets(machine(), table)


def test_the_smallest_sets_close_what_can_be_closed(sets):
    assert sets
    best = sets[0]
    assert best.can_be_retrofitted and {"vaporizer-exclusion", "o2-analyser", "outlet-retention"} <= set(best.features)
    assert ("hypoxic-mixture", OXYGEN_SHUT) in {gap[:2] for gap in best.closed}
    assert {gap.cause for gap in best.left} >= {"dial-off"}  # nothing in the catalogue stops that


def test_each_member_of_a_set_closes_something_that_no_other_member_does(sets):
    for each in sets:
        for code in each.features:
            others = set(chain(*(each.closes[other] for other in each.features if other != code)))
            assert set(each.closes[code]) - others, f"{code} in {each.features}"


def test_all_sets_leave_the_same_open_and_open_nothing_new(sets):
    assert len({frozenset(each.left) for each in sets}) == 1
    assert all(each.opens == () and not set(each.left) & set(each.closed) for each in sets)


def test_the_link_or_the_analyser_closes_the_oxygen_control_shut():
    table = cover_table(machine(), causes=[cause(OXYGEN_SHUT)])
    found = {each.features: each for each in closing_sets(machine(), table)}
    assert found.keys() == {("o2-analyser",), ("ratio-protection",)}
    assert [each.can_be_retrofitted for each in found.values()] == [True, False]


def test_a_set_is_tried_on_the_altered_circuit_not_taken_from_the_catalogue():
    """The catalogue has ratio protection cover hypoxic mixtures; that of a crossed pipeline it does not close."""
    table = cover_table(machine(), causes=[cause("oxygen-inlet-carries-nitrous-oxide")])
    assert "hypoxic-mixture" in FEATURES["ratio-protection"].hazards
    assert all("ratio-protection" not in each.features for each in closing_sets(machine(), table))


def test_a_hose_that_is_off_is_off_too_where_its_connector_has_another_size():
    circuit, altered = machine(), with_feature(machine(), "scavenging-30mm")
    off = moved(cause("apl-valve-vent-scavenging-in-off"), circuit, altered)
    assert {connection.size for connection in off.state.cut} == {"30 mm"} and off.state.cut <= set(altered.connections)


def test_where_nothing_is_open_nothing_is_proposed():
    table = cover_table(machine(OLDEST), causes=[cause("ordinary-use")])
    assert closing_sets(machine(OLDEST), table) == ()


def by_trying(families):
    members = sorted(set(chain(*families)))
    hits = [
        set(chosen)
        for size in range(1, len(members) + 1)
        for chosen in combinations(members, size)
        if all(set(chosen) & family for family in families)
    ]
    return {frozenset(chosen) for chosen in hits if not any(other < chosen for other in hits)}


@given(st.lists(st.frozensets(st.sampled_from("abcdef"), min_size=1, max_size=4), min_size=1, max_size=6))
def test_hitting_sets_are_those_found_by_trying_all(families):
    assert {frozenset(chosen) for chosen in hitting_sets(families)} == by_trying(families)
