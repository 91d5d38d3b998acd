"""The circuit of a machine on a day: from its model, from its own records, and components that form none."""

from datetime import date

import pytest

from fleet.actions import copy_circuits, record_feature_state
from fleet.circuit.digest import circuit_digest
from fleet.circuit.files import read_circuit
from fleet.circuit.units import to_si
from fleet.circuits.machine_circuit import AS_BUILT, AS_RECORDED, NO_CIRCUIT_YET, UNKNOWN, circuit_of, circuits_of
from fleet.models import Component, Connection, Machine
from tests.factories import NOON, TODAY, make_area, make_component, make_machine, make_model, make_site
from tests.fleet.circuit_texts import SMALL


@pytest.fixture
def model(db):
    return make_model(circuit=SMALL, features={"pin-index": "fitted", "o2-analyser": "not fitted"})


def test_a_machine_without_components_of_its_own_has_the_circuit_of_its_model(model):
    found = circuit_of(make_machine(model=model), TODAY)
    assert (found.is_own, found.basis, found.problems) == (False, AS_BUILT, ())
    assert [component.code for component in found.circuit.components] == [component.code for component in read_circuit(SMALL).components]


def test_what_is_written_down_from_the_model_is_the_same_circuit(model):
    machine = make_machine(model=model)
    before = circuit_of(machine, TODAY).circuit
    copy_circuits([machine], by=None, at=NOON)
    found = circuit_of(machine, TODAY)
    assert (found.is_own, found.basis, found.problems) == (True, AS_RECORDED, ())
    assert circuit_digest(found.circuit) == circuit_digest(before)
    assert found.components["outlet"].fitted_on == machine.in_use_from


def test_protections_are_those_fitted_on_the_day(model):
    machine = make_machine(model=model)
    record_feature_state(
        machine, "o2-analyser", "fitted", from_date=date(2020, 1, 1), evidence="retrofit", by=None, at=NOON
    )
    assert circuit_of(machine, date(2019, 12, 31)).circuit.fittings == {"pin-index"}
    assert circuit_of(machine, date(2020, 1, 1)).circuit.fittings == {"pin-index", "o2-analyser"}


def test_the_room_has_the_pressure_of_the_altitude_of_the_site(model):
    machine = make_machine(model=model, area=make_area(make_site(altitude_m=1000)))
    # Source: U.S. Standard Atmosphere, 1976, table 1: 89 876 Pa at 1000 m
    assert circuit_of(machine, TODAY).circuit.ambient_pa_abs == pytest.approx(89_876, abs=2)


def test_recorded_components_that_are_joined_to_nothing_leave_the_model_its_circuit(model):
    machine = make_machine(model=model)
    make_component(machine, kind="vaporizer", label="Vaporizer")
    found = circuit_of(machine, TODAY)
    assert (found.basis, [component.label for component in found.loose]) == (AS_BUILT, ["Vaporizer"])


def test_recorded_components_alone_make_no_circuit_and_it_says_what_to_do(db):
    machine = make_machine()
    make_component(machine, label="Oxygen regulator")
    found = circuit_of(machine, TODAY)
    assert (found.circuit, found.basis) == (None, NO_CIRCUIT_YET)
    assert "are not connected" in str(found.problems[0]) and "connect the components" in str(found.problems[0])


def test_nothing_is_known_of_a_machine_without_components_whose_model_has_no_circuit(db):
    found = circuit_of(make_machine(), TODAY)
    assert (found.circuit, found.basis, found.problems) == (None, UNKNOWN, ())


def test_a_model_circuit_that_cannot_be_read_is_a_problem_and_no_error(db):
    found = circuit_of(make_machine(model=make_model(circuit="title = 3")), TODAY)
    assert found.circuit is None and not found.can_be_solved and found.problems


def test_joined_components_that_do_not_work_say_so(model):
    machine = make_machine(model=model)
    copy_circuits([machine], by=None, at=NOON)
    Connection.objects.filter(source__code="nitrous-oxide-inlet").update(removed_on=TODAY)
    found = circuit_of(machine, TODAY)
    assert found.basis == NO_CIRCUIT_YET and found.problems and not found.can_be_solved


def test_a_value_in_a_unit_that_nobody_knows_is_named_with_its_component(model):
    machine = make_machine(model=model)
    copy_circuits([machine], by=None, at=NOON)
    Component.objects.filter(code="vaporizer").update(rated={"highest_output": [5, "inch"]})
    assert "Vaporizer: highest_output" in str(circuit_of(machine, TODAY).problems[0])


def test_a_circuit_takes_measured_values_and_says_where_they_come_from(model):
    measured = {("cut-off-valve", "cut_pressure"): (to_si(21, "psi"), "bench, 2026-03-01")}
    found = circuit_of(make_machine(model=model), TODAY, measured)
    assert found.circuit.component("cut-off-valve").values["cut_pressure"] == to_si(21, "psi")
    assert found.measured == {("cut-off-valve", "cut_pressure"): "bench, 2026-03-01"}
    assert [line[1:] for line in found.measured_lines] == [
        ("Oxygen pressure at which it shuts", "21 psi", "bench, 2026-03-01")
    ]


def test_a_measured_value_may_name_the_record_of_the_component(model):
    machine = make_machine(model=model)
    copy_circuits([machine], by=None, at=NOON)
    valve = Component.objects.get(code="cut-off-valve")
    measured = {(valve.pk, "cut_pressure"): (to_si(21, "psi"), "bench, 2026-03-01")}
    assert circuit_of(machine, TODAY, measured).circuit.component("cut-off-valve").values["cut_pressure"] == to_si(21, "psi")


def test_a_measured_value_of_a_component_that_is_not_there_changes_nothing(model):
    measured = {("ratio-controller", "cut_pressure"): (1.0, "bench")}
    assert circuit_of(make_machine(model=model), TODAY, measured).measured == {}


def test_many_machines_cost_as_many_queries_as_one(model, django_assert_num_queries):
    machines = [make_machine(model=model) for _ in range(6)]
    copy_circuits(machines[:3], by=None, at=NOON)
    rows = list(Machine.objects.with_place().filter(pk__in=[machine.pk for machine in machines]))
    with django_assert_num_queries(3):
        found = circuits_of(rows, TODAY)
    assert [found[row.pk].is_own for row in rows] == [True] * 3 + [False] * 3
