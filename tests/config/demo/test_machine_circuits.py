"""The circuits of the demonstration: complete, and consistent with the features of their models."""

from collections import Counter
from datetime import date

import pytest

from config.demo.machine_circuits import (
    CIRCUITS,
    circuit_text,
    fit_exclusion_bar,
    fit_components,
    fit_wide_scavenging,
    morning,
)
from config.demo.scenario import read_scenario
from fleet.circuit.derived_features import contradictions, derived_features
from fleet.circuit.digest import circuit_digest
from fleet.circuit.files import read_circuit, write_circuit
from fleet.circuit.network import check_circuit
from fleet.circuit.solver import solve
from fleet.circuit.usual_states import ordinary_state
from fleet.circuits.machine_circuit import circuit_of
from fleet.models import Component
from tests.factories import TODAY, make_machine, make_model

MODELS = {entry["code"]: entry for entry in read_scenario()["model"]}
STATES = {"fitted": "fitted", "unwanted": "fitted", "missing": "not fitted", "unknown": "not known"}
FIRST_DAY, LATER = date(2015, 1, 1), date(2020, 6, 1)


def recorded(entry):
    return {feature: state for name, state in STATES.items() for feature in entry[name]}


def test_every_model_has_a_circuit_and_every_circuit_a_model():
    assert {path.stem for path in CIRCUITS.glob("*.toml")} == set(MODELS)


@pytest.mark.parametrize("code", MODELS)
def test_the_circuit_of_a_model_is_whole_from_the_supplies_to_patient_and_scavenging(code):
    circuit = read_circuit(circuit_text(code))
    assert check_circuit(circuit) == ()
    assert read_circuit(write_circuit(circuit)) == circuit
    kinds = Counter(component.kind for component in circuit.components)
    assert kinds["pipeline-inlet"] == 3 and kinds["cylinder-yoke"] >= 2
    assert all(kinds[kind] == 1 for kind in ("outlet", "patient-connection", "apl-valve", "scavenging-interface"))
    assert {component.gas for component in circuit.of_kind("pipeline-inlet")} == set(MODELS[code]["gases"])


@pytest.mark.parametrize("code", MODELS)
def test_the_circuit_of_a_model_contradicts_none_of_its_recorded_protections(code):
    shown = derived_features(read_circuit(circuit_text(code)))
    assert [str(found) for found in contradictions(shown, recorded(MODELS[code]))] == []


@pytest.mark.parametrize("code", MODELS)
def test_the_cut_off_valves_are_of_the_kind_that_the_model_says(code):
    valves = read_circuit(circuit_text(code)).of_kind("supply-failure-valve")
    assert {valve.options["type"] for valve in valves} == {MODELS[code]["supply_failure"]}
    assert {valve.gas for valve in valves} == set(MODELS[code]["gases"]) - {"oxygen"}


@pytest.mark.parametrize("code", MODELS)
def test_a_machine_in_ordinary_use_warns_of_nothing_and_gives_oxygen_enough(code):  # common practice, no source
    circuit = read_circuit(circuit_text(code))
    solution = solve(circuit, ordinary_state(circuit))
    assert [told.words for told in solution.told if told.feature] == []
    assert 0.3 < solution.mix("patient", "inspired").share("oxygen") < 0.4  # 2 L/min beside 4


@pytest.fixture
def machine_of(db):
    def make(code, **fields):
        entry = MODELS[code]
        model = make_model(code=code, circuit=circuit_text(code), gases=entry["gases"], features=recorded(entry))
        return make_machine(model=model, in_use_from=FIRST_DAY, **fields)

    return make


def test_a_machine_gets_the_components_of_its_model_with_plates_of_its_own(machine_of):
    machine = machine_of("aldane-40")
    fit_components(machine)
    found = circuit_of(machine, TODAY)
    assert found.is_own and found.problems == ()
    regulators = Component.objects.filter(machine=machine, kind="pressure-regulator")
    assert {component.label for component in regulators} == {"Oxygen regulator", "Nitrous oxide regulator"}
    assert all(component.serial and component.lot and component.rated["output_pressure"] == [45, "psi"] for component in regulators)
    assert len({component.serial for component in regulators}) == 2


def test_two_machines_of_a_model_at_one_site_share_their_circuit(machine_of):
    one = machine_of("norrfell-3")
    two = make_machine(model=one.model, area=one.area, in_use_from=LATER)
    for machine in (one, two):
        fit_components(machine)
    assert circuit_digest(circuit_of(one, TODAY).circuit) == circuit_digest(circuit_of(two, TODAY).circuit)


def test_wide_scavenging_ends_the_narrow_connections_on_its_day(machine_of):
    machine = machine_of("aldane-20")
    fit_components(machine)
    fit_wide_scavenging(machine, on=LATER, by=None, at=morning(LATER))
    before, after = (
        [connection.size for connection in circuit_of(machine, day).circuit.connections if connection.target.component == "scavenging"]
        for day in (FIRST_DAY, LATER)
    )
    assert (before, after) == (["22 mm", "22 mm"], ["30 mm", "30 mm"])
    assert circuit_of(machine, LATER).problems == ()


def test_an_exclusion_bar_fitted_later_holds_from_its_day(machine_of):
    machine = machine_of("norrfell-3s")
    fit_components(machine)
    fit_exclusion_bar(machine, on=LATER, by=None, at=morning(LATER))
    states = [
        derived_features(circuit_of(machine, day).circuit)["vaporizer-exclusion"].state for day in (FIRST_DAY, LATER)
    ]
    assert states == ["not fitted", "fitted"]


def test_a_component_that_somebody_took_out_contradicts_the_register(machine_of):
    machine = machine_of("castrine-1", asset_number="PB-005")
    fit_components(machine)
    found = contradictions(derived_features(circuit_of(machine, TODAY).circuit), recorded(MODELS["castrine-1"]))
    assert [one.feature for one in found] == ["vaporizer-exclusion"]
