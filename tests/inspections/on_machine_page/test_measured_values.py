"""What the bench last measured of a machine counts in its circuit in place of the plate."""

from datetime import timedelta

import pytest

from fleet.actions import copy_circuits
from fleet.circuit.units import to_si
from fleet.circuits.measured_circuit import circuit_as_measured, circuits_as_measured
from fleet.models import Component
from inspections.on_machine_page.measured_values import measured_values
from tests.factories import (
    NOON,
    TODAY,
    bench_result,
    make_component,
    make_machine,
    make_model,
    make_person,
    make_signed_inspection,
)
from tests.fleet.circuit_texts import SMALL

LATER = NOON + timedelta(days=1)


@pytest.fixture
def machine(db):
    return make_machine(model=make_model(circuit=SMALL))


@pytest.fixture
def technician(db):
    return make_person("technician")


def found_today(machine):
    return circuit_as_measured(machine, TODAY, today=TODAY)


def trip(psi, key="trip_pressure"):
    return bench_result(psi, key=key)


def sign(machine, technician, *results, test="supply-failure", subject="nitrous-oxide", at=NOON, **step):
    step = {"test_code": test, "subject": subject, "results": list(results), **step}
    return make_signed_inspection(machine, by=technician, at=at, steps=[step])


def test_a_trip_pressure_is_that_of_the_cut_off_valve_of_its_gas(machine, technician):
    sign(machine, technician, trip(21.0))
    found = found_today(machine)
    assert found.circuit.component("cut-off-valve").values["cut_pressure"] == pytest.approx(to_si(21, "psi"))
    assert found.measured == {("cut-off-valve", "cut_pressure"): "bench, 2 Nov 2026"}


def test_the_last_signature_counts_and_what_it_did_not_measure_stands(machine, technician):
    sign(machine, technician, trip(21.0))
    sign(machine, technician, trip(23.0), at=LATER)
    sign(machine, technician, bench_result(1.0, key="residual_flow", unit="L/min"), at=LATER + timedelta(days=1))
    ((value, words),) = measured_values([machine])[machine.pk].values()
    assert value == pytest.approx(to_si(23, "psi")) and words == "bench, 3 Nov 2026"


def test_a_trip_of_another_gas_is_not_that_of_nitrous_oxide(machine, technician):
    sign(machine, technician, trip(21.0), subject="air")
    assert found_today(machine).measured == {}


def test_a_machine_with_records_takes_it_on_its_own_valve(machine, technician):
    copy_circuits([machine], by=None, at=NOON)
    sign(machine, technician, trip(21.0))
    valve = Component.objects.get(machine=machine, kind="supply-failure-valve")
    assert list(measured_values([machine])[machine.pk]) == [(valve.pk, "cut_pressure")]
    assert found_today(machine).circuit.component("cut-off-valve").values["cut_pressure"] == pytest.approx(to_si(21, "psi"))


def test_a_regulator_takes_what_was_measured_on_it_and_no_other_does(technician):
    machine = make_machine()
    one, _ = (make_component(machine, gas="oxygen") for _ in range(2))
    static = bench_result(46.0, key="static_pressure")
    sign(machine, technician, static, test="regulator", subject=one.label, component=one)
    assert list(measured_values([machine])[machine.pk]) == [(one.pk, "output_pressure")]


def test_a_leak_is_that_of_the_flow_bank(machine, technician):
    leak = bench_result(0.12, key="leak_standard", unit="L/min")
    sign(machine, technician, leak, test="low-pressure-leak", subject="")
    assert found_today(machine).circuit.component("flow-bank").values["leak_flow"] == pytest.approx(to_si(0.12, "L/min"))


def test_what_is_on_the_bench_or_void_counts_nothing(machine, technician):
    from inspections.models import Inspection

    signed = sign(machine, technician, trip(21.0))
    Inspection.objects.filter(pk=signed.pk).update(stage="void", void_reason="Twice", signed_at=None, signed_by=None)
    assert measured_values([machine]) == {}


def test_many_machines_take_as_many_queries_as_one(machine, technician, django_assert_max_num_queries):
    sign(machine, technician, trip(21.0))
    with django_assert_max_num_queries(6) as one:
        circuits_as_measured([machine], TODAY)
    machines = [machine, *(make_machine(model=machine.model) for _ in range(5))]
    for each in machines:
        sign(each, technician, trip(22.0), at=LATER)
    with django_assert_max_num_queries(len(one.captured_queries)):
        circuits_as_measured(machines, TODAY)
