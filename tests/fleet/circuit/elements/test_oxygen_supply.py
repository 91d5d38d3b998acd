"""What watches oxygen pressure, the flow controls, and the ratio of the gases."""

from itertools import pairwise

import pytest
from pytest import approx

from tests.fleet.circuit.elements.rigs import LITRE_PER_MINUTE, PSI, component, element, flow, litres, solved, wall


@pytest.mark.parametrize(
    ("oxygen_psi", "is_open"), [(50, True), (30, True), (21, True), (20, False), (10, False), (0, False)]
)
def test_a_shut_off_valve_shuts_below_20_psi(oxygen_psi, is_open):
    # Source: ASA Monitor 2015; 79(9): 52, abstract: one kind shuts nitrous oxide below about 20 psi
    valve = element("supply-failure-valve", gas="nitrous-oxide")
    passed = flow(valve, "through", 345e3, 325e3, "nitrous-oxide", (oxygen_psi * PSI,))
    assert (passed > 50) is is_open
    assert (passed < 1e-3) is not is_open


def test_a_proportional_valve_throttles_as_oxygen_falls():
    # Source: ASTM F1850 in USTB p. 231: shut off or reduce in proportion
    options = {"type": "proportional"}
    valve = component(
        "supply-failure-valve", "valve", "nitrous-oxide", options, cut_pressure=10 * PSI, open_pressure=45 * PSI
    )
    control = component("flow-control", "control", "nitrous-oxide")
    components = [wall(), wall("nitrous-oxide", "other"), valve, control, component("gauge", "gauge", "oxygen")]
    connections = ["wall.out valve.oxygen", "wall.out gauge.in", "other.out valve.in", "valve.out control.in"]
    flows = []
    for psi in (50, 45, 30, 20, 12, 10, 0):
        settings = {"wall": {"supply_pressure": psi * PSI}, "control": {"set_flow": 4 * LITRE_PER_MINUTE}}
        flows.append(litres(solved(components, connections, settings), "control"))
    assert all(later <= earlier * (1 + 1e-9) for earlier, later in pairwise(flows))
    assert flows[0] == approx(4 * (345 + 101) / (310 + 101), rel=0.02)
    assert flows[2] < 0.75 * flows[0]
    assert flows[-1] < 1e-3


def test_a_cut_off_valve_taken_away_passes_whatever_oxygen_does():
    valve = element("supply-failure-valve", gas="nitrous-oxide", removed=True)
    assert flow(valve, "through", 345e3, 325e3, "nitrous-oxide") == approx(60, rel=1e-6)


@pytest.mark.parametrize("kind", ["shut-off", "proportional"])
def test_a_worn_seat_passes_a_litre_at_pipeline_pressure_besides_what_was_measured(kind):
    more = {"gas": "nitrous-oxide", "options": {"type": kind}}
    valve = element("supply-failure-valve", **more, failure="passing")
    assert flow(valve, "through", 345e3, 0, "nitrous-oxide", (0,)) == approx(1, rel=1e-3)
    valve = element("supply-failure-valve", **more, values={"residual_flow": 0.5 * LITRE_PER_MINUTE}, failure="passing")
    assert flow(valve, "through", 345e3, 0, "nitrous-oxide", (0,)) == approx(1.5, rel=1e-3)


def test_a_measured_trip_pressure_is_the_one_that_trips():
    valve = element("supply-failure-valve", gas="nitrous-oxide", values={"cut_pressure": 160e3})
    assert flow(valve, "through", 345e3, 325e3, "nitrous-oxide", (159e3,)) < 1e-3
    assert flow(valve, "through", 345e3, 325e3, "nitrous-oxide", (169e3,)) > 50


@pytest.mark.parametrize(("psi", "sounds"), [(31, False), (29, True), (0, True)])
def test_the_oxygen_alarm_sounds_below_30_psi(psi, sounds):
    # Source: USTB p. 231: threshold of older pneumatic alarms about 30 psi
    components = [wall(), component("oxygen-alarm", "alarm", "oxygen")]
    found = solved(components, ["wall.out alarm.in"], {"wall": {"supply_pressure": psi * PSI}})
    assert [told.feature for told in found.told] == ["o2-supply-alarm"] * sounds
    assert all("Alarm sounds" in told.words and told.component == "alarm" for told in found.told)
    taken = solved(
        components, ["wall.out alarm.in"], {"wall": {"supply_pressure": psi * PSI}}, removed=["o2-supply-alarm"]
    )
    assert taken.told == ()


def test_the_oxygen_alarm_does_not_know_which_gas_it_feels():
    components = [wall(), component("oxygen-alarm", "alarm", "oxygen")]
    assert solved(components, ["wall.out alarm.in"], {"wall": {"supply_gas": "nitrous-oxide"}}).told == ()


def test_a_flow_control_passes_what_is_set_and_half_of_it_at_half_the_absolute_pressure():
    # choked flow is in proportion to absolute pressure: at (310 + 101.325) / 2 - 101.325 = 104.3 kPa gauge half of it,
    # still above the critical ratio: 101.3 / 205.7 = 0.49 < 0.53
    control = element("flow-control", gas="oxygen", set_flow=2 * LITRE_PER_MINUTE)
    assert flow(control, "through", 310e3, 0) == approx(2, rel=1e-9)
    assert flow(control, "through", 104_337.5, 0) == approx(1, rel=1e-9)


def test_a_shut_control_gives_its_basal_flow():
    # Source: from memory: usually 150 to 300 mL/min where fitted
    control = element("flow-control", gas="oxygen", values={"basal_flow": 0.2 * LITRE_PER_MINUTE}, set_flow=0.0)
    assert flow(control, "through", 310e3, 0) == approx(0.2, rel=1e-9)


@pytest.mark.parametrize("psi", [45, 50, 55])
def test_flush_gives_35_to_75_litres_a_minute(psi):
    # Source: APSF, Understanding your machine: oxygen flush valve, 35 to 75 L/min
    components = [wall(), component("flush-valve", "flush", "oxygen"), component("outlet", "outlet")]
    connections, settings = ["wall.out flush.in", "flush.out outlet.in"], {"flush": {"pressed": 1}}
    found = solved(components, connections, {"wall": {"supply_pressure": psi * PSI}, **settings})
    assert 35 <= litres(found, "outlet") <= 75
    assert litres(solved(components, connections), "outlet") < 1e-3


BANK = [
    wall(),
    wall("nitrous-oxide", "other"),
    component("flow-control", "oxygen-control", "oxygen"),
    component("flow-control", "other-control", "nitrous-oxide"),
    component("flowmeter", "oxygen-tube", "oxygen"),
    component("flowmeter", "other-tube", "nitrous-oxide"),
    component("flow-bank", "bank"),
    component("outlet", "outlet"),
]
PLAIN = [
    "wall.out oxygen-control.in",
    "other.out other-control.in",
    "oxygen-control.out oxygen-tube.in",
    "other-control.out other-tube.in",
    "other-tube.out bank.in",
    "oxygen-tube.out bank.out",
    "bank.out outlet.in",
]


def controls(oxygen, other):
    flows = {"oxygen-control": oxygen, "other-control": other}
    return {code: {"set_flow": litre * LITRE_PER_MINUTE} for code, litre in flows.items()}


def test_three_parts_of_nitrous_oxide_to_one_of_oxygen_are_25_per_cent():
    # Source: ASA Monitor 2015; 79(10): 42, abstract: 3.0 L/min and 1.0 L/min
    found = solved(BANK, PLAIN, controls(1, 3))
    assert found.mix("outlet", "out").share("oxygen") == approx(0.25, abs=1e-6)


LINK = component("ratio-link", "link", options={"oxygen_control": "oxygen-control", "other_control": "other-control"})


@pytest.mark.parametrize(("oxygen", "other", "share"), [(1, 8, 0.25), (1, 3, 0.25), (2, 2, 0.5)])
def test_a_ratio_link_holds_a_quarter_of_oxygen(oxygen, other, share):
    # Source: ASA Monitor 2015; 79(10): 42, abstract; AAGBI 2012 step 5: at least 25 %
    found = solved([*BANK, LINK], PLAIN, controls(oxygen, other))
    assert found.mix("outlet", "out").share("oxygen") == approx(share, abs=1e-6)


def test_a_ratio_link_shuts_nitrous_oxide_with_oxygen():
    # Source: AAGBI 2012 step 5: oxygen off, nitrous oxide must stop
    assert litres(solved([*BANK, LINK], PLAIN, controls(0, 4)), "outlet") < 1e-3
    broken = solved([*BANK, LINK], PLAIN, controls(0, 4), [("link", "broken")])
    assert litres(broken, "outlet") == approx(4 * 446 / 411, rel=0.02)
    slipped = solved([*BANK, LINK], PLAIN, controls(1, 8), [("link", "drifted low")])
    assert slipped.mix("outlet", "out").share("oxygen") == approx(0.15, abs=1e-6)


def test_a_ratio_link_takes_an_oxygen_control_that_nobody_set_for_shut():
    options = {"oxygen_control": "oxygen", "other_control": "other"}
    found = element("ratio-link", options=options).govern({"oxygen": {}, "other": {"set_flow": 1e-4}})
    assert found["other"]["set_flow"] == 0


CONTROLLER = ["wall.out oxygen-control.in", "other.out other-control.in", "oxygen-control.out ratio.oxygen-in",
              "ratio.oxygen-out oxygen-tube.in", "other-control.out ratio.nitrous-oxide-in",
              "ratio.nitrous-oxide-out other-tube.in", "other-tube.out bank.in", "oxygen-tube.out bank.out",
              "bank.out outlet.in"]  # fmt: skip


@pytest.mark.parametrize(("oxygen", "other", "share"), [(1, 9, 0.25), (0.5, 4, 0.25), (2, 2, 0.5)])
def test_a_ratio_controller_in_the_gas_holds_a_quarter_of_oxygen(oxygen, other, share):
    # Source: ASA Monitor 2015; 79(10): 42, abstract
    found = solved([*BANK, component("ratio-protection", "ratio")], CONTROLLER, controls(oxygen, other))
    assert found.mix("outlet", "out").share("oxygen") == approx(share, abs=0.002)


def test_a_ratio_controller_does_not_know_which_gas_it_feels():
    settings = {**controls(1, 3), "wall": {"supply_gas": "nitrous-oxide"}}
    found = solved([*BANK, component("ratio-protection", "ratio")], CONTROLLER, settings)
    assert found.mix("outlet", "out").share("oxygen") < 1e-6
    assert litres(found, "outlet") > 2


def test_a_bank_with_oxygen_last_leaks_the_other_gas():
    # Source: common practice, no source: a leak upstream lets out the other gases rather than oxygen
    last = solved(BANK, PLAIN, controls(2, 6), [("bank", "leaking")])
    assert litres(last, "bank", "leak") > 0.1
    assert last.mix("outlet", "out").share("oxygen") > 0.26
    first = [*PLAIN[:4], "other-tube.out bank.out", "oxygen-tube.out bank.in", PLAIN[-1]]
    assert solved(BANK, first, controls(2, 6), [("bank", "leaking")]).mix("outlet", "out").share("oxygen") < 0.24
    taken = solved(BANK, PLAIN, controls(2, 6), [("bank", "leaking")], ["o2-last"])
    assert taken.mix("outlet", "out").share("oxygen") == approx(0.25, abs=1e-6)


MIXER = [
    wall(),
    wall("nitrous-oxide", "other"),
    wall("air", "third"),
    component("electronic-mixer", "mixer"),
    component("outlet", "outlet"),
]
MIXED = [
    "wall.out mixer.oxygen-in",
    "other.out mixer.nitrous-oxide-in",
    "third.out mixer.air-in",
    "mixer.out outlet.in",
]


def mixer(oxygen=0.0, nitrous_oxide=0.0, air=0.0):
    flows = {"oxygen_flow": oxygen, "nitrous_oxide_flow": nitrous_oxide, "air_flow": air}
    return {"mixer": {key: litre * LITRE_PER_MINUTE for key, litre in flows.items()}}


def test_a_mixer_gives_what_is_set_whatever_the_supply_pressure():
    for psi in (40, 50, 60):
        found = solved(MIXER, MIXED, {**mixer(2, 4), "wall": {"supply_pressure": psi * PSI}})
        assert litres(found, "outlet") == approx(6, rel=1e-3)
        assert litres(found, "mixer", "through") == approx(2, rel=1e-3)
        assert litres(found, "mixer", "nitrous oxide") == approx(4, rel=1e-3)
        assert found.mix("outlet", "out").share("oxygen") == approx(1 / 3, abs=1e-4)


def test_a_mixer_holds_a_quarter_of_oxygen_and_taken_away_does_not():
    assert solved(MIXER, MIXED, mixer(1, 9)).mix("outlet", "out").share("oxygen") == approx(0.25, abs=1e-3)
    taken = solved(MIXER, MIXED, mixer(1, 9), removed=["electronic-mixing"])
    assert taken.mix("outlet", "out").share("oxygen") == approx(0.1, abs=1e-3)


def test_a_mixer_shuts_nitrous_oxide_without_oxygen_pressure():
    found = solved(MIXER, MIXED, {**mixer(2, 4), "wall": {"supply_pressure": 0.0}})
    assert litres(found, "outlet") < 1e-2


def test_a_mixer_without_power_gives_nothing():
    assert litres(solved(MIXER, MIXED, mixer(2, 4), [("mixer", "no power")]), "outlet") < 1e-2
