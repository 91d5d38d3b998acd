"""Each alteration of alterations.toml on real circuits: what it changes, and why it is refused."""

import pytest

from fleet.catalogue import FEATURES
from fleet.circuit.alterations import ALTERATIONS, CannotBeAltered, altered, difference
from fleet.circuit.files import read_circuit
from fleet.circuit.network import check_circuit
from fleet.circuit.solved_states import Bench
from fleet.circuit.usual_states import controlled_gases, ordinary_state
from tests.fleet.circuit.demo_machines import NAMES, machine
from tests.fleet.circuit_texts import SMALL

AGENTS = ("halothane", "enflurane", "isoflurane", "sevoflurane", "desflurane")


def circuit(name):
    return machine(name)


@pytest.mark.parametrize("name", NAMES)
def test_every_alteration_leaves_a_circuit_that_can_be_solved_or_says_why_not(name):
    before = circuit(name)
    for kind in ALTERATIONS.values():
        for agent in AGENTS if kind.needs_agent else ("",):
            try:
                after = altered(before, kind, agent)
            except CannotBeAltered as refused:
                assert str(refused).startswith("It has"), f"{name}, {kind}: {refused}"
                continue
            assert not check_circuit(after) and after != before
            Bench(after).look(ordinary_state(after))
            with pytest.raises(CannotBeAltered):
                altered(after, kind, agent)  # a second time there is nothing left to do


def test_without_nitrous_oxide_nothing_meters_it_and_the_other_gases_stay():
    before = circuit("castrine-1")  # with a ratio controller that both gases pass
    after = altered(before, ALTERATIONS["nitrous-oxide-off"])
    assert controlled_gases(before) == ("oxygen", "air", "nitrous-oxide")
    assert controlled_gases(after) == ("oxygen", "air")
    assert not after.of_kind("ratio-protection") and not any(each.gas == "nitrous-oxide" for each in after.components)


def test_a_withdrawn_agent_leaves_its_place_in_the_exclusion_empty():
    before = circuit("castrine-2")
    after = altered(before, ALTERATIONS["agent-off"], "desflurane")
    assert difference(before, after).removed == ("exclusion-bar", "vaporizer")  # one vaporizer has nothing to exclude
    assert [each.options["agent"] for each in after.of_kind("vaporizer")] == ["sevoflurane"]


def test_the_refusal_names_what_is_there():
    with pytest.raises(CannotBeAltered, match="It has: desflurane, sevoflurane"):
        altered(circuit("castrine-2"), ALTERATIONS["agent-off"], "halothane")
    with pytest.raises(CannotBeAltered, match="It has this already: vaporizer exclusion"):
        altered(circuit("castrine-2"), ALTERATIONS["fit-exclusion"])
    with pytest.raises(CannotBeAltered, match="fewer than two vaporizers"):
        altered(read_circuit(SMALL), ALTERATIONS["fit-exclusion"])


def test_what_is_fitted_is_named_by_its_kind():
    before = read_circuit(SMALL)
    after = altered(before, ALTERATIONS["fit-outlet-check-valve"])
    assert difference(before, after) == (("check-valve",), ())


def test_every_alteration_says_what_is_recorded_afterwards():
    for kind in ALTERATIONS.values():
        for code, is_fitted in kind.features_after.items():
            assert is_fitted != FEATURES[code].is_unwanted, f"{kind} leaves {code} in the wrong state"
    assert ALTERATIONS["fit-scavenging-30"].features_after == {
        "scavenging-30mm": True, "scavenging-breathing-size": False,
    }  # fmt: skip
