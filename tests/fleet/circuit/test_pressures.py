"""What helps where Newton's method fails leads to the same pressures, on machines that it solves."""

from pathlib import Path

import numpy as np
import pytest
from pytest import approx

from fleet.circuit.balance import balance_of
from fleet.circuit.causes import causes_of
from fleet.circuit.composition import Mixing
from fleet.circuit.conditions import elements_of
from fleet.circuit.elements import ELEMENTS
from fleet.circuit.files import read_circuit
from fleet.circuit.junctions import build_net
from fleet.circuit.network import check_circuit
from fleet.circuit.pressures import settle
from fleet.circuit.resting import beginning
from fleet.circuit.usual_states import ordinary_state
from fleet.circuit.vessels import filled, swept
from fleet.circuit.workshop import Workshop
from tests.fleet.circuit.plumber import LPM, for_components, state, two_gases

CIRCUITS = sorted((Path(__file__).parents[3] / "config" / "demo" / "circuits").glob("*.toml"))


def begun(nets, ambient):
    """Return the balance of networks, with the pressures and gases from which they begin."""
    balance = balance_of(nets)
    mixing = Mixing(nets, balance)
    pressures, fractions = beginning(mixing, [None] * len(nets), ambient)
    return balance, pressures, mixing.gas(fractions), nets


def alone(circuit, how):
    how = for_components(how, circuit)
    net = build_net(circuit, how, elements_of(circuit, how, (), frozenset(), ELEMENTS))
    return begun([net], circuit.ambient_pa_abs)


def bench():
    how = state(oxygen_control={"set_flow": 2 * LPM}, nitrous_oxide_control={"set_flow": 4 * LPM})
    return alone(two_gases(), how)


@pytest.mark.parametrize("way", [swept, filled])
def test_junction_by_junction_or_as_vessels_the_pressures_come_to_the_same(way):
    balance, pressures, mixes, (net,) = bench()
    expected = settle(balance, pressures, mixes, [net]).pressures[0]
    for _ in range(40):
        pressures = way(balance, pressures, mixes, net)
    free = slice(0, balance.free)
    assert pressures[0, free] == approx(expected[free], rel=1e-4)


def test_slopes_of_the_balance_are_those_between_two_near_pressures():
    balance, pressures, mixes, nets = bench()
    p = settle(balance, pressures, mixes, nets).pressures
    matrix = balance.matrix(balance.slopes(p, mixes))[0]
    for junction in range(balance.free):
        step = np.zeros_like(p)
        step[0, junction] = 1e-3
        up, down = balance.slopes(p + step, mixes), balance.slopes(p - step, mixes)
        change = (balance.surplus(up.values, up.gain) - balance.surplus(down.values, down.gain))[0] / 2e-3
        assert matrix[:, junction] == approx(change, rel=1e-3, abs=1e-3 * abs(change).max())


@pytest.mark.parametrize("path", CIRCUITS, ids=lambda path: path.stem)
def test_the_demonstration_machines_have_no_problem_and_come_to_rest(path):
    circuit = read_circuit(path.read_text(), title=path.stem)
    assert check_circuit(circuit) == ()
    balance, *begun_at = alone(circuit, ordinary_state(circuit))
    settled = settle(balance, *begun_at)
    surplus = balance.surplus(settled.values, settled.gain)
    assert not settled.failed
    assert np.abs(surplus).max() <= 1e-9 * np.abs(settled.values).max()


def many(path):
    """Every cause of a machine as one batch."""
    circuit = read_circuit(path.read_text(), title=path.stem)
    workshop = Workshop(circuit, ELEMENTS)
    nets = [workshop.build(cause.state, cause.faults, frozenset()).net for cause in causes_of(circuit)]
    return begun(list({id(net): net for net in nets}.values()), circuit.ambient_pa_abs)


@pytest.mark.parametrize("path", CIRCUITS[::3], ids=lambda path: path.stem)
def test_steps_of_many_networks_are_those_of_each_by_its_own_matrix(path):
    balance, pressures, mixes, nets = many(path)
    s = balance.slopes(pressures, mixes)
    surplus = balance.surplus(s.values, s.gain)
    step, diagonal = balance.step(s, surplus)
    for n, net in enumerate(nets):
        matrix = balance.matrix(s, np.array([n]))[0]
        assert diagonal[n] == approx(np.diag(matrix))
        free = slice(0, net.free)
        left = matrix[free, free] @ step[n, free] + surplus[n, free]
        largest = np.abs(matrix[free, free]) @ np.abs(step[n, free])
        assert np.all(np.abs(left) <= 1e-12 * largest)


@pytest.mark.parametrize("path", CIRCUITS[:1], ids=lambda path: path.stem)
def test_a_network_comes_to_the_same_pressures_among_others_as_alone(path):
    balance, pressures, mixes, nets = many(path)
    settled = settle(balance, pressures, mixes, nets)
    assert not settled.failed
    for n in range(0, len(nets), 7):
        one, start, gas, _ = begun([nets[n]], 101_325.0)
        expected = settle(one, start, gas, [nets[n]]).pressures[0, : nets[n].free]
        assert settled.pressures[n, : nets[n].free] == approx(expected, rel=1e-10)
