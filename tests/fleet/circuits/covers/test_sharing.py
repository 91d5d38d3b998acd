"""Machines share a cover if their circuits differ in nothing that changes it."""

import pytest

from fleet.actions import copy_circuits
from fleet.circuit.digest import circuit_digest
from fleet.circuit.units import to_si
from fleet.circuits.covers.sharing import LEAK_STEP_M3_S, shared_circuit
from fleet.circuits.machine_circuit import circuit_of
from tests.factories import NOON, TODAY, make_area, make_machine, make_model, make_site
from tests.fleet.circuit_texts import SMALL

CUT = ("cut-off-valve", "cut_pressure")  # 25 psi on its plate
LEAK = ("flow-bank", "leak_flow")  # none by default


@pytest.fixture
def model(db):
    return make_model(circuit=SMALL, features={"pin-index": "fitted"})


def shared(machine, measured=None):
    return shared_circuit(machine, circuit_of(machine, TODAY, measured or {}))


def value(machine, which, measured):
    component, key = which
    return shared(machine, measured)[0].component(component).values.get(key)


@pytest.mark.parametrize(
    "psi, counts_as, differs", [(27.4, 25, False), (22.6, 25, False), (27.6, 27.5, True), (19.5, 20, True)]
)
def test_a_pressure_near_its_rated_one_counts_as_that_and_another_is_taken_in_steps(model, psi, counts_as, differs):
    measured = {CUT: (to_si(psi, "psi"), "bench, 1 Mar 2026")}
    machine = make_machine(model=model)
    assert value(machine, CUT, measured) == pytest.approx(to_si(counts_as, "psi"), rel=1e-9)
    assert shared(machine, measured)[1] == (["Cut-off valve: bench, 1 Mar 2026"] if differs else [])


@pytest.mark.parametrize("ml_min, steps", [(0, 0), (24, 0), (26, 1), (130, 3)])
def test_a_leak_is_taken_to_the_nearest_50_ml_min(model, ml_min, steps):
    measured = {LEAK: (to_si(ml_min, "mL/min"), "bench, 1 Mar 2026")}
    assert value(make_machine(model=model), LEAK, measured) == pytest.approx(steps * LEAK_STEP_M3_S)


def test_sites_at_nearly_the_same_altitude_share(model):
    """Source: U.S. Standard Atmosphere, 1976: 101.3 kPa at 0 m, 98.9 kPa at 200 m, 89.9 kPa at 1000 m."""
    machines = [make_machine(model=model, area=make_area(make_site(altitude_m=m))) for m in (0, 200, 1000)]
    assert [shared(machine)[0].ambient_pa_abs for machine in machines] == [100_000, 100_000, 90_000]


def test_a_machine_with_records_of_its_own_shares_with_one_that_has_its_models(model):
    measured = {CUT: (to_si(25.5, "psi"), "bench, 1 Mar 2026")}
    one, other = make_machine(model=model), make_machine(model=model)
    copy_circuits([other], by=None, at=NOON)
    assert circuit_digest(shared(one, measured)[0]) == circuit_digest(shared(other, measured)[0])


def test_a_protection_that_this_circuit_does_not_turn_on_keeps_no_machine_apart(model):
    """Gauges prevent no fault; pins at the yokes of a machine without yokes prevent nothing."""
    same = make_model(circuit=SMALL, features={"pin-index": "fitted", "front-gauges": "fitted"})
    guarded = make_model(circuit=SMALL, features={"pin-index": "fitted", "dial-anticlockwise": "fitted"})
    digests = [circuit_digest(shared(make_machine(model=each))[0]) for each in (model, same, guarded)]
    assert digests[0] == digests[1] != digests[2]
