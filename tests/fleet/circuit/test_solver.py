"""The solver on laws so small that every answer can be had by hand."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
from pytest import approx

from fleet.circuit import resting
from fleet.circuit.elements.base import Boundary, Branch, Plumbing
from fleet.circuit.gases import ROOM_AIR
from fleet.circuit.solution import NoSolution
from fleet.circuit.solver import solve
from fleet.circuit.state import Fault
from fleet.circuit.structure import Port
from tests.fleet.circuit.small_laws import AS_IT_IS, KINDS, Constant, Pipe, Supply, circuit, component, joined


def solved(made, state=AS_IT_IS, *faults, **options):
    return solve(made, state, faults, kinds=options.pop("kinds", KINDS), **options)


def line(**values):
    """Wall, pipe and outlet in a row; each conducts 1e-8 m3/s per Pa unless told otherwise."""
    components = [
        component("wall", "pipeline-inlet", "oxygen", g=1e-8),
        component("pipe", "filter", "oxygen", g=values.get("pipe", 1e-8)),
        component("outlet", "outlet", g=1e-8),
    ]
    return circuit(components, "wall.out > pipe.in", "pipe.out > outlet.in")


def test_pressures_along_three_equal_pipes_fall_by_thirds():
    found = solved(line())
    assert found.gauge("pipe", "in") == approx(400e3 * 2 / 3, rel=1e-4)  # the open end takes 1e-8 / 1.7e-4 of it
    assert found.gauge("pipe", "out") == approx(400e3 / 3, rel=1e-4)
    assert found.flow("pipe").value_m3_s == approx(400e3 * 1e-8 / 3, rel=1e-4)


def test_gas_along_a_line_is_the_gas_of_its_supply():
    found = solved(line())
    assert found.mix("outlet", "out").share("oxygen") == approx(1, abs=1e-11)
    assert found.into_room_m3_s("oxygen") == approx(found.flow("pipe").value_m3_s, rel=1e-9)


def test_a_connection_that_is_cut_lets_the_gas_into_the_room_at_both_ends():
    made = line()
    found = solved(made, replace(AS_IT_IS, cut=frozenset(joined("pipe.out > outlet.in"))))
    assert found.gauge("pipe", "out") == approx(0, abs=100)
    assert found.flow("outlet").value_m3_s == approx(0, abs=1e-15)
    assert found.flow("pipe", "open out").value_m3_s == approx(400e3 * 1e-8 / 2, rel=1e-3)


def test_a_hose_on_the_wrong_place_leads_its_gas_there():
    components = [
        component("wall", "pipeline-inlet", "oxygen", g=1e-9),
        component("right", "outlet"),
        component("wrong", "outlet"),
    ]
    made = circuit(components, "wall.out > right.in")
    swapped = replace(AS_IT_IS, cut=frozenset(joined("wall.out > right.in")), made=joined("wall.out > wrong.in"))
    found = solved(made, swapped)
    assert found.flow("wrong").value_m3_s == approx(found.flow("wall").value_m3_s, rel=1e-9)
    assert found.flow("right", "open in").value_m3_s == approx(0, abs=1e-15)
    assert ("wall", "open out") not in found.flows


def test_a_check_valve_passes_its_leak_and_no_more_the_other_way():
    components = [
        component("high", "pipeline-inlet", "oxygen"),
        component("low", "pipeline-inlet", "oxygen", pressure=300e3),
        component("valve", "check-valve"),
        component("outlet", "outlet", g=1e-9),
    ]
    found = solved(circuit(components, "high.out > outlet.in", "low.out > valve.in", "valve.out > outlet.in"))
    across = found.gauge("valve", "in") - found.gauge("valve", "out")
    assert across == approx(-100e3, rel=0.01)
    assert found.flow("valve").value_m3_s == approx(1e-14 * across, rel=1e-6)


def test_vapour_is_its_dialled_share_of_what_leaves_and_the_gas_is_all_there():
    components = [
        component("wall", "pipeline-inlet", "oxygen", g=1e-9),
        component("vaporizer", "vaporizer"),
        component("outlet", "outlet"),
    ]
    made = circuit(components, "wall.out > vaporizer.in", "vaporizer.out > outlet.in")
    found = solved(made, AS_IT_IS.with_settings("vaporizer", dial=0.02))
    assert found.mix("outlet", "out").share("sevoflurane") == approx(0.02, rel=1e-9)
    # 2 % of what leaves is vapour, so that what leaves is the oxygen over 0.98
    assert found.flow("outlet").value_m3_s == approx(found.flow("wall").value_m3_s / 0.98, rel=1e-9)
    assert found.imbalance < 1e-9


def test_three_to_one_is_a_quarter():
    components = [
        component("oxygen", "pipeline-inlet", "oxygen", g=1e-10),
        component("nitrous", "pipeline-inlet", "nitrous-oxide", g=3e-10),
        component("bank", "flow-bank", g=1e-6),
        component("outlet", "outlet", g=1e-6),
    ]
    found = solved(circuit(components, "oxygen.out > bank.in", "nitrous.out > bank.in", "bank.out > outlet.in"))
    assert found.mix("outlet", "in").share("oxygen") == approx(0.25, rel=1e-9)


def pilot_circuit(oxygen=400e3):
    components = [
        component("oxygen", "pipeline-inlet", "oxygen", pressure=oxygen),
        component("nitrous", "pipeline-inlet", "nitrous-oxide"),
        component("valve", "supply-failure-valve", "nitrous-oxide"),
        component("outlet", "outlet", g=1e-8),
    ]
    return circuit(components, "oxygen.out > valve.oxygen", "nitrous.out > valve.in", "valve.out > outlet.in")


@pytest.mark.parametrize(("oxygen", "share"), [(400e3, 1.0), (100e3, 0.5), (0.0, 0.0)])
def test_a_valve_opens_as_far_as_its_pilot_says(oxygen, share):
    found = solved(pilot_circuit(oxygen))
    g = 1 / (1 / 1e-6 + (1 / (1e-7 * share) if share else 1e30) + 1 / 1e-8)  # three in a row
    assert found.flow("valve").value_m3_s == approx(400e3 * g, rel=1e-3, abs=1e-9)


def test_a_protection_taken_away_lets_gas_pass():
    found = solve(pilot_circuit(0.0), AS_IT_IS, removed={"o2-failure-protection"}, kinds=KINDS)
    assert found.flow("valve").value_m3_s > 1e-4 * 0.9 * 40


def test_a_leak_is_one_of_the_failures():
    whole, leaking = solved(line()), solved(line(), AS_IT_IS, Fault("pipe", "leaking"))
    assert leaking.flow("pipe", "leak").value_m3_s > 0
    assert leaking.gauge("pipe", "in") < whole.gauge("pipe", "in")


def test_a_component_shut_off_on_every_side_is_at_the_pressure_of_the_room():
    made = circuit(
        [component("one", "filter"), component("other", "flow-bank")], "one.out > other.in", "other.out > one.in"
    )
    assert solved(made).gauge("one", "in") == approx(0, abs=1e-6)


def test_the_order_of_components_and_connections_makes_no_difference():
    made = pilot_circuit(120e3)
    turned = made.__class__(made.code, made.title, made.components[::-1], made.connections[::-1])
    assert solved(made).pressures_pa_abs == solved(turned).pressures_pa_abs


def test_a_warm_start_leads_to_the_same_answer():
    warm = solved(pilot_circuit(120e3), start=solved(pilot_circuit(400e3)))
    cold = solved(pilot_circuit(120e3))
    assert warm.pressures_pa_abs == approx(cold.pressures_pa_abs, rel=1e-9)


def test_a_loop_that_a_pump_drives_takes_the_gas_that_is_led_into_it():
    components = [
        component("wall", "pipeline-inlet", "oxygen", g=1e-10),
        component("pump", "breathing-hose"),
        component("back", "flow-bank", g=1e-6),
        component("outlet", "outlet", g=1e-6),
    ]
    made = circuit(components, "pump.out > back.in", "back.out > pump.in", "wall.out > back.in", "back.out > outlet.in")
    found = solved(made)
    assert found.flow("pump").value_m3_s == 1e-4
    assert found.mix("pump", "in").share("oxygen") == approx(1, abs=1e-8)
    assert found.imbalance < 1e-9


class Held(Supply):
    """A supply that gives its pressure at its way out, with nothing between."""

    def plumbing(self):
        return Plumbing((), (Boundary(Port(self.component.code, "out"), 5e5, ROOM_AIR),))


def test_two_pressures_at_one_place_are_refused_by_name():
    components = [
        component("one", "pipeline-inlet", "air"),
        component("other", "pipeline-inlet", "air"),
        component("outlet", "outlet"),
    ]
    made = circuit(components, "one.out > outlet.in", "other.out > outlet.in")
    with pytest.raises(NoSolution, match=r"other.out and one.out are connected directly"):
        solved(made, kinds={**KINDS, "pipeline-inlet": Held})


def test_a_pump_from_a_closed_end_has_no_steady_state_and_is_named():
    components = [component("end", "filter"), component("pump", "breathing-hose"), component("outlet", "outlet")]
    made = circuit(components, "end.out > pump.in", "pump.out > outlet.in")
    plugged = circuit([*components, component("plug", "yoke-block")], *["end.out > pump.in", "pump.out > outlet.in"])
    plugged = plugged.__class__(
        "plugged", "plugged", plugged.components, plugged.connections + joined("plug.in > end.in")
    )
    assert solved(made).flow("pump").value_m3_s == 1e-4
    with pytest.raises(NoSolution, match=r"More gas is drawn from (end|pump)"):
        solved(plugged)


def test_a_failure_that_a_component_cannot_have_is_refused():
    with pytest.raises(NoSolution, match=r"pipe has no failure 'stuck open'. Accepted: leaking"):
        solved(line(), AS_IT_IS, Fault("pipe", "stuck open"))


def test_two_failures_of_one_component_are_refused():
    with pytest.raises(NoSolution, match="cannot fail in two ways"):
        solved(line(), AS_IT_IS, Fault("pipe", "leaking"), Fault("pipe", "stuck open"))


def test_a_connection_to_no_component_is_refused():
    made = replace(line(), connections=line().connections + joined("outlet.out > gone.in"))
    with pytest.raises(NoSolution, match="leads to 'gone', no component of small circuit"):
        solved(made)


def test_two_components_of_one_code_are_refused():
    made = replace(line(), components=(*line().components, component("pipe", "filter")))
    with pytest.raises(NoSolution, match="more than one component with the code pipe"):
        solved(made)


def test_a_fault_of_no_component_is_refused():
    with pytest.raises(NoSolution, match="has no component 'gone', so it cannot have failed .leaking"):
        solved(line(), AS_IT_IS, Fault("gone", "leaking"))


def test_a_kind_without_a_law_is_refused():
    with pytest.raises(NoSolution, match="outlet is of kind 'outlet', which has no flow law"):
        solved(line(), kinds={kind: one for kind, one in KINDS.items() if kind != "outlet"})


def test_a_setting_of_no_component_is_refused():
    with pytest.raises(NoSolution, match="has no component vaporizer"):
        solved(line(), AS_IT_IS.with_settings("vaporizer", dial=0.02))


def test_flows_that_no_pressure_makes_alike_are_refused_and_never_given_as_an_answer():
    class Stubborn(Pipe):
        """Passes half of what the pump does, whatever the pressure."""

        def plumbing(self):
            return Plumbing((Branch("through", self.port("in"), self.port("out"), Constant(0.5e-4)),))

    components = [component("one", "filter"), component("pump", "breathing-hose"), component("two", "filter")]
    made = circuit(components, "pump.out > one.in", "one.out > two.in", "two.out > pump.in")
    with pytest.raises(NoSolution, match="More gas"):
        solved(made, kinds={**KINDS, "filter": Stubborn})


def test_flows_that_balance_less_than_to_1e_9_are_refused(monkeypatch):
    monkeypatch.setattr(resting, "imbalance", lambda *given: np.array([0.9e-9]))
    assert solved(line()).imbalance == 0.9e-9
    monkeypatch.setattr(resting, "imbalance", lambda *given: np.array([1.1e-9]))
    with pytest.raises(NoSolution, match="do not balance"):
        solved(line())


class Swinging:
    """Each pass turns x into 1 - x, which rests at 1/2 alone."""

    count, size, most_breaths, net = 1, 1, 0, np.zeros(0, dtype=int)
    nets, balance = (None,), None

    def gas(self, fractions):
        self.x = fractions

    def spread(self, *given):
        return SimpleNamespace(fractions=1 - self.x, comes=np.ones((1, 1)), breathed=np.zeros((1, 1, 0)))


def test_mixtures_that_swing_between_two_values_are_damped_until_they_rest(monkeypatch):
    still = SimpleNamespace(pressures=np.zeros((1, 1)), values=0.0, gain=1.0, slopes=None, failed={})
    monkeypatch.setattr(resting, "settle", lambda *given: still)
    found = resting.stand_still(Swinging(), np.zeros((1, 1)), np.array([[[0.9, 0.1]]]))
    assert found.fractions[0, 0] == approx([0.5, 0.5], abs=1e-6) and found.passes[0] > resting.PASSES // 3
