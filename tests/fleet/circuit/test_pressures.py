"""What helps where Newton's method fails leads to the same pressures, on machines that it solves."""

from pathlib import Path

import numpy as np
import pytest
from pytest import approx

from fleet.circuit.composition import shares
from fleet.circuit.elements import ELEMENTS
from fleet.circuit.files import read_circuit
from fleet.circuit.junctions import build_net
from fleet.circuit.network import check_circuit
from fleet.circuit.pressures import Balance, filled, settle, swept
from fleet.circuit.solver import beginning, elements_of
from fleet.circuit.usual_states import ordinary_state
from tests.fleet.circuit.plumber import LPM, for_components, state, two_gases

CIRCUITS = sorted((Path(__file__).parents[3] / "config" / "demo" / "circuits").glob("*.toml"))


def balance_of(circuit, how):
    how = for_components(how, circuit)
    net = build_net(circuit, how, elements_of(circuit, how, (), frozenset(), ELEMENTS))
    balance = Balance(net)
    return balance, *beginning(net, balance, None)


def bench():
    how = state(oxygen_control={"set_flow": 2 * LPM}, nitrous_oxide_control={"set_flow": 4 * LPM})
    return balance_of(two_gases(), how)


@pytest.mark.parametrize("way", [swept, filled])
def test_junction_by_junction_or_as_vessels_the_pressures_come_to_the_same(way):
    balance, pressures, mixes = bench()
    expected = settle(balance, pressures, mixes).pressures
    for _ in range(40):
        pressures = way(balance, pressures, mixes)
    free = slice(0, balance.net.free)
    assert pressures[free] == approx(expected[free], rel=1e-4)


def test_slopes_of_the_balance_are_those_between_two_near_pressures():
    balance, pressures, mixes = bench()
    p = settle(balance, pressures, mixes).pressures
    s = balance.slopes(p, mixes)
    matrix = balance.matrix(s)
    for junction in range(balance.net.free):
        step = np.zeros_like(p)
        step[junction] = 1e-3
        up, down = balance.slopes(p + step, mixes), balance.slopes(p - step, mixes)
        change = (balance.surplus(up.values, up.gain) - balance.surplus(down.values, down.gain)) / 2e-3
        assert matrix[:, junction] == approx(change, rel=1e-3, abs=1e-3 * abs(change).max())


def test_a_loop_that_gets_next_to_nothing_is_filled_with_just_that():
    # Two junctions that pass 1 to and fro; 1e-15 of it comes to the first from outside, half of each gas. Plain
    # elimination would take 1 from 1 + 1e-15 and lose it.
    weights = np.array([[0.0, 1.0], [1.0, 0.0]])
    found = shares(weights, np.array([1e-15, 0.0]), np.array([[5e-16, 5e-16], [0.0, 0.0]]))
    assert found == approx(np.full((2, 2), 0.5), rel=1e-12)


@pytest.mark.parametrize("path", CIRCUITS, ids=lambda path: path.stem)
def test_the_demonstration_machines_have_no_problem_and_come_to_rest(path):
    circuit = read_circuit(path.read_text(), title=path.stem)
    assert check_circuit(circuit) == ()
    balance, pressures, mixes = balance_of(circuit, ordinary_state(circuit))
    settled = settle(balance, pressures, mixes)
    surplus = balance.surplus(settled.values, settled.gain)
    assert np.abs(surplus).max() <= 1e-9 * np.abs(settled.values).max()
