"""What a circuit shows of its protections, and where the record says otherwise."""

import tomllib
from dataclasses import replace

import pytest

from fleet.circuit.derived_features import Contradiction, Derived, contradictions, derived_features
from fleet.circuit.structure import Connection, Port
from tests.fleet.circuit.demo_machines import FOLDER, NAMES, NEWEST, machine

SCENARIO = tomllib.loads((FOLDER.parent / "scenario.toml").read_text(encoding="utf-8"))
TABLES = [table for tables in SCENARIO.values() if isinstance(tables, list) for table in tables]
MODELS = {table["code"]: table for table in TABLES if "fitted" in table}


def recorded(name):
    model = MODELS[name]
    return {**dict.fromkeys(model["fitted"], "fitted"), **dict.fromkeys(model["missing"], "not fitted")}


def changed(circuit, code, **changes):
    component = replace(circuit.component(code), **changes)
    return replace(circuit, components=tuple(component if p.code == code else p for p in circuit.components))


@pytest.mark.parametrize("name", NAMES)
def test_the_circuits_of_the_demonstration_show_what_is_recorded_of_their_models(name):
    shown = derived_features(machine(name))
    assert [str(each) for each in contradictions(shown, recorded(name))] == []
    assert len(set(shown) & recorded(name).keys()) >= 15


def test_a_cut_off_valve_steered_by_the_wrong_line_is_no_supply_failure_protection():
    """The component is there, and the gas flows on: what counts is what the gas does."""
    circuit = machine()
    valve = Port("nitrous-oxide-cut-off-valve", "oxygen")
    connections = tuple(
        Connection(Port("nitrous-oxide-inlet", "out"), valve) if connection.target == valve else connection for connection in circuit.connections
    )
    shown = derived_features(replace(circuit, connections=connections))["o2-failure-protection"]
    assert shown.state == "not fitted" and "nitrous oxide 4 L/min" in shown.because


def test_a_cut_off_valve_that_passes_much_when_shut_is_none():
    circuit = changed(machine(), "nitrous-oxide-cut-off-valve", values={"residual_flow": 1e-3 / 60})
    assert derived_features(circuit)["o2-failure-protection"].state == "not fitted"


def test_an_analyser_that_never_alarms_is_none():
    assert derived_features(machine(NEWEST))["o2-analyser"].state == "fitted"
    deaf = changed(machine(NEWEST), "oxygen-analyser", values={"alarm_low": 0.0})
    assert derived_features(deaf)["o2-analyser"].state == "not fitted"


def test_the_spill_valve_on_the_bag_side_is_excluded_by_the_selector():
    assert derived_features(machine("castrine-1"))["apl-excluded"].state == "fitted"
    assert derived_features(machine("aldane-40"))["apl-excluded"].state == "not fitted"


def test_sizes_tell_scavenging_connectors_apart():
    assert derived_features(machine())["scavenging-breathing-size"].because == "The waste gas connections are 22 mm."
    bare = machine()
    bare = replace(bare, connections=tuple(replace(connection, size="") for connection in bare.connections))
    assert not {"scavenging-30mm", "breathing-connectors"} & derived_features(bare).keys()


def test_what_a_circuit_cannot_show_is_left_out():
    assert not {"front-gauges", "pin-index", "flush-guard", "protective-earth"} & derived_features(machine()).keys()


def test_a_contradiction_says_what_is_recorded_what_is_shown_and_why():
    found = contradictions(derived_features(machine()), {"outlet-check-valve": "fitted"})
    because = "There is no check valve between vaporizers and outlet."
    assert found == (Contradiction("outlet-check-valve", "fitted", "not fitted", because),)
    assert str(found[0]) == (
        f"Outlet check valve is recorded as fitted, but the circuit shows it as not fitted: {because}"
    )


def test_what_is_not_known_contradicts_nothing():
    shown = {"ratio-protection": Derived("fitted", "It holds.")}
    assert contradictions(shown, {"ratio-protection": "not known"}) == contradictions(shown, {}) == ()


def test_a_mixer_that_does_the_work_of_ratio_protection_contradicts_no_record_without_one():
    shown = derived_features(machine(NEWEST))
    assert shown["ratio-protection"].state == "fitted"
    record = {"ratio-protection": "not fitted", "electronic-mixing": "fitted"}
    assert contradictions(shown, record) == ()
    assert len(contradictions(shown, {"ratio-protection": "not fitted"})) == 1
