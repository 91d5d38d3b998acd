"""Wall, cylinder, valves and regulators on the bench."""

import pytest
from pytest import approx

from tests.fleet.circuit.elements.rigs import LITRE_PER_MINUTE, PSI, component, element, flow, litres, solved, wall


def test_the_wall_gives_its_pressure_less_what_the_hose_loses():
    inlet = element("pipeline-inlet", gas="oxygen", hose_drop=None)
    assert inlet.plumbing().boundaries[0].pressure_pa_abs == approx(101_325 + 50 * PSI)
    assert flow(inlet, "through", 50 * PSI, 50 * PSI - 10e3) == approx(60, rel=1e-9)


def test_a_hose_that_is_off_leaves_the_inlet_open_to_the_room():
    components = [
        component("pipeline-inlet", "inlet", "oxygen"),
        wall(code="other"),
        component("filter", "tee", "oxygen"),
    ]
    connections = ["other.out tee.in", "tee.out inlet.out"]
    found = solved(components, connections, {"inlet": {"supply_gas": ""}})
    assert litres(found, "inlet") < -60


def test_a_wall_that_gives_the_wrong_gas_gives_it_under_pressure():
    inlet = element("pipeline-inlet", gas="oxygen", supply_gas="nitrous-oxide")
    assert inlet.plumbing().boundaries[0].mix.share("nitrous-oxide") == 1


@pytest.mark.parametrize("kind", ["pipeline-inlet", "cylinder-yoke"])
def test_a_supply_that_states_no_gas_gives_oxygen(kind):
    (boundary,) = element(kind, is_open=1).plumbing().boundaries
    assert boundary.mix.share("oxygen") == 1


def test_an_open_full_cylinder_drives_its_regulator_at_45_psi():
    # Source: from memory: first-stage outlet about 45 psi
    components = [
        component("cylinder-yoke", "yoke", "oxygen"),
        component("pressure-regulator", "regulator", "oxygen"),
        component("gauge", "gauge", "oxygen"),
        component("flow-control", "control", "oxygen"),
    ]
    connections = ["yoke.out regulator.in", "regulator.out gauge.in", "gauge.in control.in"]
    found = solved(components, connections, {"yoke": {"is_open": 1}})
    assert found.gauge("yoke", "in") == approx(1900 * PSI, rel=1e-6)
    assert found.gauge("gauge", "in") == approx(45 * PSI, rel=0.01)
    assert found.told[0].words.startswith("Gauge shows 3")
    assert found.told[0].feature == ""  # a gauge warns nobody who does not look


def test_behind_a_shut_cylinder_there_is_no_pressure():
    components = [
        component("cylinder-yoke", "yoke", "oxygen"),
        component("pressure-regulator", "regulator", "oxygen"),
        wall(),
    ]
    found = solved(components, ["yoke.out regulator.in", "regulator.out wall.out"])
    assert abs(found.gauge("regulator", "in")) < 5e3


def test_two_yokes_without_check_valves_empty_together_and_one_valve_keeps_them_apart():
    yokes = [component("cylinder-yoke", "full", "oxygen"), component("cylinder-yoke", "empty", "oxygen")]
    settings = {"full": {"is_open": 1}, "empty": {"is_open": 1, "content": 0.0}}
    bare = solved(
        [*yokes, component("gauge", "gauge", "oxygen")], ["full.out gauge.in", "empty.out gauge.in"], settings
    )
    assert litres(bare, "empty") < -100
    valve = component("check-valve", "valve", "oxygen", {"place": "yoke"})
    connections = ["full.out gauge.in", "empty.out valve.in", "valve.out gauge.in"]
    kept = solved([*yokes, component("gauge", "gauge", "oxygen"), valve], connections, settings)
    assert -0.1 < litres(kept, "empty") < 0


@pytest.mark.parametrize("place", ["yoke", "pipeline", "outlet"])
def test_the_place_of_a_check_valve_says_which_protection_it_is(place):
    assert element("check-valve", options={"place": place}).protects == (f"{place}-check-valve",)
    assert element("check-valve").protects == ()


def test_a_check_valve_passes_one_way_and_taken_away_both():
    valve = {"gas": "oxygen", "options": {"place": "pipeline"}}
    assert flow(element("check-valve", **valve), "through", 345e3, 338e3) == approx(60, rel=0.02)
    assert -1e-3 < flow(element("check-valve", **valve), "through", 0, 345e3) < 0
    assert flow(element("check-valve", **valve, removed=True), "through", 340e3, 345e3) == approx(-60, rel=1e-6)


def test_a_check_valve_that_is_stuck_shut_stays_so_when_its_protection_is_taken_away():
    valve = element("check-valve", failure="stuck shut", removed=True)
    assert flow(valve, "through", 345e3, 0) < 1e-3


def test_a_back_leak_is_what_was_measured_at_100_kpa():
    valve = element("check-valve", values={"highest_back_leak": 2e-3 * LITRE_PER_MINUTE})
    assert flow(valve, "through", 0, 100e3) == approx(-2e-3, rel=0.01)


def test_dirt_on_a_seat_adds_to_the_back_leak_that_it_had():
    # 1 L/min at 100 kPa, and 2 L/min at 345 kPa, of which 100 kPa give 0.58
    valve = element("check-valve", values={"highest_back_leak": LITRE_PER_MINUTE}, failure="leaking")
    assert flow(valve, "through", 0, 100e3) == approx(-(1 + 2 * 100 / 345), rel=1e-4)


@pytest.mark.parametrize(("inlet", "rated_at"), [({}, 45 * PSI), ({"inlet_pressure": 600e3}, 600e3)])
def test_a_second_stage_is_rated_at_the_pressure_of_the_first_or_at_its_own(inlet, rated_at):
    values = {"output_pressure": 200e3, "rated_flow": 50 * LITRE_PER_MINUTE, "droop": 10e3, **inlet}
    regulator = element("pressure-regulator", gas="oxygen", options={"stage": "second"}, values=values)
    assert flow(regulator, "through", rated_at, 190e3) == approx(50, rel=0.04)


def test_a_regulator_droops_as_rated_and_at_rated_inlet():
    values = {"inlet_pressure": 5e6, "rated_flow": 100 * LITRE_PER_MINUTE, "droop": 20e3}
    regulator = element("pressure-regulator", gas="oxygen", values=values)
    assert flow(regulator, "through", 5e6, 45 * PSI - 20e3) == approx(100, rel=0.04)
    assert flow(regulator, "through", 5e6, 45 * PSI - 1) < 0.1


def test_a_drifted_regulator_stands_above_the_pipeline():
    # so that the cylinder is used while the wall is on; Source: common practice, no source
    components = [component("cylinder-yoke", "yoke", "oxygen"), component("pressure-regulator", "regulator", "oxygen"),
             component("check-valve", "valve", "oxygen", {"place": "pipeline"}), wall(),
             component("flow-control", "control", "oxygen"), component("outlet", "outlet")]  # fmt: skip
    connections = [
        "yoke.out regulator.in",
        "regulator.out control.in",
        "wall.out valve.in",
        "valve.out control.in",
        "control.out outlet.in",
    ]
    settings = {"yoke": {"is_open": 1}, "control": {"set_flow": 4 * LITRE_PER_MINUTE}}
    sound = solved(components, connections, settings)
    assert litres(sound, "wall") == approx(litres(sound, "control"), rel=1e-3)
    drifted = solved(components, connections, settings, [("regulator", "drifted high")])
    assert litres(drifted, "regulator") == approx(litres(drifted, "control"), rel=1e-3)
    assert drifted.gauge("control", "in") == approx(45 * 1.3 * PSI, rel=0.01)


def test_a_creeping_regulator_raises_a_shut_line_until_its_relief_opens():
    regulator = component("pressure-regulator", "regulator", "oxygen", relief_pressure=75 * PSI)
    components = [component("cylinder-yoke", "yoke", "oxygen"), regulator, component("gauge", "gauge", "oxygen")]
    connections, on = ["yoke.out regulator.in", "regulator.out gauge.in"], {"yoke": {"is_open": 1}}
    crept = solved(components, connections, on, [("regulator", "creeping")])
    assert crept.gauge("gauge", "in") == approx(75 * PSI, rel=0.02)
    assert litres(crept, "regulator", "relief") == approx(1 * 13.1 / 5, rel=0.1)  # 1 L/min at 5 MPa, by pressure


def test_a_regulator_that_sticks_open_is_held_by_the_supply_relief():
    # Source: NFPA 99, from memory: relief on supply lines commonly 75 psi (517 kPa)
    relief = element("pipe-relief-valve", gas="oxygen")
    assert flow(relief, "vent", 510e3, 0) < 1e-3
    assert flow(relief, "vent", 75 * PSI + 30e3, 0) == approx(100, rel=0.02)


def test_an_old_machines_second_stage_follows_oxygen_and_shuts_without_it():
    values = {"output_pressure": 26 * PSI, "cut_pressure": 0.5 * PSI, "full_oxygen": 40 * PSI}
    valve = element("regulator-cutoff", gas="nitrous-oxide", values=values)
    outs = {psi: flow(valve, "through", 45 * PSI, 5 * PSI, "nitrous-oxide", (psi * PSI,)) for psi in (0, 5, 40, 50)}
    assert outs[0] < 1e-3
    assert outs[5] < 1e-3  # 26 x 4.5 / 39.5 = 3 psi, below the 5 psi behind it
    assert outs[40] > 20
    assert outs[50] == approx(outs[40], rel=0.05)
    bare = element("regulator-cutoff", gas="nitrous-oxide", values=values, removed=True)
    assert flow(bare, "through", 45 * PSI, 5 * PSI, "nitrous-oxide") > 20


def test_a_yoke_plug_closes_and_an_empty_yoke_does_not():
    yoke, block = component("cylinder-yoke", "yoke", "oxygen"), component("yoke-block", "plug", "oxygen")
    empty = {"yoke": {"cylinder_gas": ""}}
    open_yoke = solved([yoke, wall()], ["yoke.out wall.out"], empty)
    assert litres(open_yoke, "yoke") < -5
    plugged = solved([yoke, wall(), block], ["yoke.out wall.out", "plug.in yoke.in"], empty)
    assert abs(litres(plugged, "yoke")) < 0.01


def test_a_main_switch_that_is_off_shuts_the_gas():
    assert flow(element("main-switch", on=0), "through", 345e3, 0) < 1e-3
    assert flow(element("main-switch", on=1), "through", 345e3, 340e3) == approx(60, rel=1e-6)
