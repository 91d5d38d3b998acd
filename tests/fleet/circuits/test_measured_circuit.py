"""What was last measured counts in the circuit of today, and in that of no other day."""

from datetime import date

import pytest

from fleet import extensions
from fleet.circuits.measured_circuit import circuit_as_measured, circuits_as_measured
from fleet.extensions import Extension
from tests.factories import TODAY, make_machine, make_model
from tests.fleet.circuit_texts import SMALL

CUT = ("cut-off-valve", "cut_pressure")
VALUE = (145e3, "bench, 2026-03-01")


@pytest.fixture
def measured_at(monkeypatch):
    """An app that measured the same on every machine; it says of which machines it was asked."""
    asked = []

    def measured(machines):
        asked.append([machine.pk for machine in machines])
        return {machine.pk: {CUT: VALUE} for machine in machines}

    monkeypatch.setitem(extensions._extensions, "bench", Extension(app="bench", measured=measured))
    return asked


@pytest.fixture
def machine(db):
    return make_machine(model=make_model(circuit=SMALL))


def test_todays_circuit_takes_what_was_measured(machine, measured_at):
    found = circuit_as_measured(machine, TODAY, today=TODAY)
    assert found.measured == {CUT: "bench, 2026-03-01"}
    assert found.circuit.component("cut-off-valve").values["cut_pressure"] == 145e3


def test_that_of_an_earlier_day_does_not_and_asks_nobody(machine, measured_at):
    assert circuit_as_measured(machine, date(2020, 1, 1), today=TODAY).measured == {}
    assert measured_at == []


def test_those_of_many_machines_ask_once(machine, measured_at):
    machines = [machine, make_machine(model=machine.model)]
    found = circuits_as_measured(machines, TODAY)
    assert all(found[one.pk].measured == {CUT: "bench, 2026-03-01"} for one in machines)
    assert measured_at == [[one.pk for one in machines]]
