"""Vaporizers against printed figures, and the bar that lets one of them be on."""

import pytest
from pytest import approx

from fleet.catalogue import AGENTS
from tests.fleet.circuit.elements.rigs import LITRE_PER_MINUTE, component, element, flow, litres, solved, wall

MMHG = 133.322387415  # Pa, conventional


def output(agent, dial, ambient, failure=""):
    return element("vaporizer", options={"agent": agent}, failure=failure, ambient=ambient, dial=dial).output()


def test_at_sea_level_it_gives_its_dial():
    assert output("isoflurane", 0.02, 101_325) == (0.02, "isoflurane")
    assert output("isoflurane", 0.0, 101_325)[0] == 0


@pytest.mark.parametrize(
    ("ambient", "percent", "partial_kpa"),
    [
        # Source: common practice, no source: 50.5 kPa at 5000 m, a dial at 1 % delivers 2 %, still about 1 kPa
        (50_500, 2.006, 1.013),
        # Arithmetic by the same rule: 2240 m (77.16 kPa): 1.313 %, 1.013 kPa
        (77_162, 1.313, 1.013),
    ],
)
def test_at_altitude_the_per_cent_rises_and_the_partial_pressure_stays(ambient, percent, partial_kpa):
    fraction, _ = output("isoflurane", 0.01, ambient)
    assert fraction * 100 == approx(percent, abs=0.001)
    assert fraction * ambient / 1000 == approx(partial_kpa, abs=0.001)


def test_a_heated_vaporizer_keeps_its_per_cent_at_altitude():
    # Source: from memory: per cent constant; arithmetic: the dial for 6 % at sea level is 7.88 % at 77.16 kPa
    assert output("desflurane", 0.06, 77_162)[0] == 0.06
    assert output("desflurane", 0.0788, 77_162)[0] * 77_162 == approx(0.06 * 101_325, rel=1e-3)


def chamber_rig(agent, chamber, bypass):
    """Oxygen through a saturating chamber beside oxygen that bypasses it, litres a minute."""
    components = [
        wall(),
        component("flow-control", "bypass", "oxygen", supply_pressure=345e3),
        component("measured-flow-vaporizer", "chamber", "", {"agent": agent}, supply_pressure=345e3),
        component("outlet", "outlet"),
    ]
    connections = ["wall.out bypass.in", "wall.out chamber.in", "bypass.out outlet.in", "chamber.out outlet.in"]
    flows = {"bypass": bypass, "chamber": chamber}
    return solved(
        components, connections, {code: {"set_flow": flow * LITRE_PER_MINUTE} for code, flow in flows.items()}
    )


@pytest.mark.parametrize(
    ("agent", "split", "mmhg"),
    [("halothane", 45.5, 243), ("isoflurane", 44.1, 238), ("enflurane", 28.6, 175), ("sevoflurane", 25.4, 160)],
)
def test_the_split_for_one_per_cent_gives_one_per_cent(agent, split, mmhg):
    # Source: from memory: bypass to chamber 46:1, 44:1, 29:1, 25:1; arithmetic with the
    # vapour pressure beside it gives 45.5, 44.1, 28.6, 25.4. Enflurane is in the catalogue with 171.3, not 175 mmHg.
    found = chamber_rig(agent, 0.1, 0.1 * split)
    known = AGENTS[agent].vapour_pressure_pa_abs / MMHG
    assert found.mix("outlet", "out").share(agent) == approx(0.01, rel=0.002 + 1.4 * abs(known / mmhg - 1))


@pytest.mark.parametrize(("agent", "percent"), [("halothane", 3.128), ("isoflurane", 3.040), ("enflurane", 4.343)])
def test_the_share_that_leaves_the_chamber_for_one_per_cent(agent, percent):
    # Source: AnaesthesiaUK, article 100148: 3.1, 3.0 and 4.3 % at 760 mmHg and 20 C, = 1 % x P / SVP with 243, 250 and
    # 175 mmHg; the catalogue holds 243, 238 and 171.3
    found = chamber_rig(agent, 0.1, 4.0)
    leaving = found.flow("chamber").mix.share(agent)
    assert leaving * 760 == approx(AGENTS[agent].vapour_pressure_pa_abs / MMHG, rel=1e-3)
    assert 100 * 0.01 / leaving == approx(percent, rel=0.06)


def test_with_the_other_flow_cut_off_saturated_vapour_leaves():
    assert chamber_rig("halothane", 0.1, 0.0).mix("outlet", "out").share("halothane") == approx(0.32, abs=0.01)


@pytest.mark.parametrize(
    ("failure", "fraction"), [("drifted high", 0.03), ("drifted low", 0.01), ("empty", 0.0), ("tipped", 0.3132)]
)
def test_a_failed_vaporizer_gives_what_its_failure_says(failure, fraction):
    # tipped: 31.73 kPa of 101.325 kPa
    assert output("isoflurane", 0.02, 101_325, failure)[0] == approx(fraction, abs=1e-4)


def test_a_tipped_vaporizer_that_is_off_gives_nothing():
    assert output("isoflurane", 0.0, 101_325, "tipped")[0] == 0


def test_a_chamber_whose_control_is_shut_leaks_like_any_tight_seat():
    # 0.02 mL/min at 400 kPa; common practice, no source
    assert flow(element("measured-flow-vaporizer"), "through", 400e3, 0) == approx(0.02e-3)


def test_a_vaporizer_filled_with_a_more_volatile_agent_gives_more():
    # 2 % on a dial for sevoflurane (21.3 kPa) filled with halothane (32.4 kPa): 2 x 32.4 / 21.3
    assert output("sevoflurane", 0.02, 101_325, "wrong agent") == (approx(0.02 * 32.4 / 21.3), "halothane")


def test_a_dial_that_does_not_shut_gives_vapour_when_off():
    assert output("isoflurane", 0.0, 101_325, "stuck open")[0] == 0.01
    assert output("isoflurane", 0.03, 101_325, "stuck open")[0] == 0.03


COMPONENTS = [component("vaporizer", "one"), component("vaporizer", "two", "", {"agent": "sevoflurane"})]
FLOW = [wall(), component("flow-control", "control", "oxygen"), component("outlet", "outlet")]
CONNECTIONS = ["wall.out control.in", "control.out one.in", "one.out two.in", "two.out outlet.in"]
BOTH_ON = {"control": {"set_flow": 4 * LITRE_PER_MINUTE}, "one": {"dial": 0.01}, "two": {"dial": 0.02}}


def bar(vaporizers="one two", **options):
    return component("exclusion-bar", "bar", options={"vaporizers": vaporizers, **options})


def test_without_exclusion_two_agents_can_be_given_and_with_it_not():  # Source: common practice, no source
    bare = solved([*FLOW, *COMPONENTS], CONNECTIONS, BOTH_ON)
    # the second vaporizer dilutes what the first gave: 1 % x (1 - 0.02)
    assert bare.mix("outlet", "out").agents == {"isoflurane": approx(0.0098), "sevoflurane": approx(0.02)}
    barred = solved([*FLOW, *COMPONENTS, bar()], CONNECTIONS, BOTH_ON)
    assert barred.mix("outlet", "out").agents == {"isoflurane": approx(0.01)}
    for more in ({"removed": ["vaporizer-exclusion"]}, {"faults": [("bar", "broken")]}):
        assert len(solved([*FLOW, *COMPONENTS, bar()], CONNECTIONS, BOTH_ON, **more).mix("outlet", "out").agents) == 2


def governed(vaporizers, on, **options):
    dials = {code: {"dial": 0.01} for code in on.split()}
    found = element("exclusion-bar", options={"vaporizers": vaporizers, **options}).govern(dials)
    return " ".join(code for code in found if found[code]["dial"] > 0)


def test_with_the_middle_place_empty_some_bars_leave_the_outer_two_free():
    # Source: catalogue of features, vaporizer exclusion; common practice, no source
    assert governed("one - three", "one three", type="neighbours") == "one three"
    assert governed("one two three", "one two three", type="neighbours") == "one three"
    assert governed("one - three", "one three", type="all") == "one"
    assert governed("one two three", "two three") == "two"


def test_a_leak_where_a_vaporizer_sits_loses_gas_only_while_it_is_on():
    settings = {"control": BOTH_ON["control"]}
    off = solved([*FLOW, *COMPONENTS], CONNECTIONS, settings, [("one", "leaking")])
    assert litres(off, "outlet") == approx(litres(off, "control"), rel=1e-6)
    on = solved([*FLOW, *COMPONENTS], CONNECTIONS, {**settings, "one": {"dial": 0.01}}, [("one", "leaking")])
    assert litres(on, "outlet") < 0.95 * litres(on, "control")
