"""Cones by their gauges, fittings that must not connect, and the pull that connections hold."""

from itertools import permutations
from math import atan, degrees

import numpy as np
import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx

from inspections.bench import TESTS, BenchError, Decision, Reason, choose_limit
from inspections.bench.connectors import GASES, INLETS, SIZES_MM
from inspections.bench.limits import FROM_MEMORY, SEEN
from tests.inspections.bench.making import context, evaluate, flow, limit
from tests.inspections.bench.simulated import Meter
from tests.inspections.bench.sound_accessories import CROSSINGS, FEMALE, MALE, connectors, yes
from tests.inspections.bench.sound_sheets import figures

CONNECTORS = TESTS["connectors"]


def result_of(key, surroundings=None, **given_sheet):
    return evaluate("connectors", connectors(**given_sheet), surroundings).result(key)


def test_the_sizes_are_those_of_the_standard():
    """Reference row: ISO 5356-1:2004, scope, seen: 8.5, 15, 22, 23 and 30 mm; 19 mm is ASTM F1343, from memory."""
    assert set(SIZES_MM) == {8.5, 15, 22, 23, 30} | {19}
    limits = {one.key: one.basis for one in CONNECTORS.default_limits}
    assert (limits["hose_fits"], limits["cones"]) == (SEEN, FROM_MEMORY)


def test_a_step_of_1_mm_on_the_gauge_is_0_025_mm_of_diameter():
    """Reference row: taper 1 in 40, included angle about 1.432 degrees (guide to ISO 5356-1:2015, seen)."""
    assert degrees(2 * atan(1 / 80)) == approx(1.432, abs=5e-4)
    assert 2 * np.tan(np.radians(1.4323) / 2) * 1.0 == approx(0.025, abs=1e-6)
    assert "1 in 40" in CONNECTORS.purpose and "0.025 mm" in CONNECTORS.purpose


@pytest.mark.parametrize("number", ["oxygen 1240", "nitrous oxide 1040", "air 1160"])
def test_the_numbers_of_the_screw_fittings_are_named(number):
    """Reference rows: DISS O2 1240 and N2O 1040, seen; air 1160, from memory (CGA V-5)."""
    assert number in CONNECTORS.purpose


def test_a_male_cone_is_gauged_with_a_ring_and_a_female_one_with_a_plug():
    """A ring goes over a male cone, a plug into a female one."""
    gauges = {table.key: table.help for table in CONNECTORS.tables}
    assert "ring gauge" in gauges["male"] and "plug gauge" in gauges["female"]


@settings(max_examples=40)
@given(kind=st.sampled_from(["male", "female"]), size=st.sampled_from([8.5, 15, 19, 22, 30]),
       bad=st.sampled_from([(0, 1), (1, 0), (0, 0)]))  # fmt: skip
def test_one_worn_or_cracked_cone_fails_whatever_the_others_are(kind, size, bad):
    more = {kind: ({"male": MALE, "female": FEMALE}[kind]) + ((size, *bad),)}
    result = result_of("cones", **more)
    assert result.decision == Decision.FAIL and result.remark == f"Worn or damaged: {size:g} mm {kind}."


@settings(max_examples=40)
@given(size=st.floats(5, 40).map(lambda one: round(one, 1)))
def test_a_size_that_no_cone_has_is_refused(size):
    if size in SIZES_MM:
        assert result_of("cones", male=(*MALE, (size, 1, 1))).decision == Decision.PASS
        return
    with pytest.raises(BenchError, match="is no size of a cone. Accepted: 8.5, 15, 19, 22, 23, 30 mm"):
        result_of("cones", male=(*MALE, (size, 1, 1)))


def test_a_size_may_be_entered_in_any_unit():
    given_sheet = connectors()
    row = {**given_sheet.tables["male"][0], "size": flow(2.2, "cm")}
    given_sheet.tables["male"] = (row, *given_sheet.tables["male"][1:])
    assert evaluate("connectors", given_sheet).result("cones").decision == Decision.PASS


def test_a_cone_counts_with_its_gauge_named():
    found = evaluate("connectors", connectors(), unnamed=True).result("cones")
    assert (found.decision, found.reason) == (Decision.NOT_TESTED, Reason.NOT_KNOWN)
    worn = evaluate("connectors", connectors(male=((22, 0, 1),)), unnamed=True).result("cones")
    assert worn.decision == Decision.FAIL


@pytest.mark.parametrize(("sizes", "decision"), [
    ((15, 22, 30), "pass"), ((15, 22, 19), "pass"), ((15, 22), "not tested"), ((22, 30), "not tested"),
])  # fmt: skip
def test_breathing_and_scavenging_cones_are_both_gauged(sizes, decision):
    """Reference rows: 15 and 22 mm for breathing, 30 mm for scavenging, 19 mm in the US beside it."""
    given_sheet = {"male": tuple((one, 1, 1) for one in sizes), "female": ()}
    assert result_of("cones", **given_sheet).decision == decision
    assert result_of("hose_fits", **given_sheet).decision == decision


def test_a_breathing_hose_on_the_scavenging_fails_and_23_mm_is_remarked():
    assert result_of("hose_fits", hose=1).decision == Decision.FAIL
    found = evaluate("connectors", connectors(male=(*MALE, (23, 1, 1))))
    assert any("23 mm" in remark and "fault" in remark for remark in found.remarks)


# --- fittings of other gases ---


@pytest.mark.parametrize("inlets", INLETS)
def test_every_fitting_is_tried_on_every_other_inlet_that_the_machine_has(inlets):
    """Source: itertools.permutations of the gases; n (n - 1) crossings, 6 for three gases."""
    asked = {key for one in CONNECTORS.readings for key in [one.key]
             if one.wanted and (("inlets", inlets),) in one.wanted}  # fmt: skip
    assert asked == {f"{one}_on_{other}" for one, other in permutations(INLETS[inlets], 2)}
    result = result_of("crossings", crossed={key: yes(0) for key in asked}, inlets=inlets)
    assert (result is None) if inlets == "oxygen" else result.decision == Decision.PASS


@settings(max_examples=40)
@given(key=st.sampled_from(CROSSINGS), others=st.sets(st.sampled_from(CROSSINGS)))
def test_one_fitting_that_connects_fails_also_where_others_were_not_tried(key, others):
    result = result_of("crossings", crossed={**{one: yes(0) for one in others}, key: yes(1)})
    fitting, _, inlet = key.partition("_on_")
    assert result.decision == Decision.FAIL
    assert f"{GASES[fitting]} on {GASES[inlet]}" in result.remark


def test_what_was_not_tried_is_named():
    asked = [key for key in CROSSINGS if key.startswith("oxygen_on_")]
    result = result_of("crossings", crossed={one: yes(0) for one in CROSSINGS if one not in asked})
    assert result.decision == Decision.NOT_TESTED
    labels = {spec.key: spec.label.partition(":")[0].lower() for spec in CONNECTORS.readings}
    assert result.why == f"Not tried: {'; '.join(labels[key] for key in CROSSINGS if key in asked)}."


# --- pull ---


@pytest.mark.parametrize(("pulls", "decision"), [
    (((50, 0),), "pass"), (((49.9, 0),), "not tested"), (((50, 1),), "fail"), (((50.1, 1),), "pass"),
    (((20, 1),), "fail"), (((60, 0), (20, 1)), "fail"), (((30, 0), (20, 1)), "fail"),
    (((30, 0), (60, 0)), "not tested"),
])  # fmt: skip
def test_what_came_off_below_the_force_fails_and_what_was_not_pulled_enough_is_not_tested(pulls, decision):
    """Reference row: 50 N pull, ISO 5356-1 annexes, from memory and doubtful. At 50 N it came off: it did not hold."""
    result = result_of("retention", pulls=pulls)
    assert result.decision == decision
    assert result.limit.basis == FROM_MEMORY and "doubtful" in result.limit.note


def test_50_newton_in_another_unit():
    """Source: pint: 50 N is 0.05 kN."""
    kilo = (50 * pint.UnitRegistry().newton).to("kilonewton").magnitude
    given_sheet = connectors(pulls=((50, 0),))
    given_sheet.tables["pulls"] = ({"force": flow(kilo, "kN"), "came_off": yes(0)},)
    assert evaluate("connectors", given_sheet).result("retention").decision == Decision.PASS


@settings(max_examples=40)
@given(force=figures(0.1, 49), pushed=st.sampled_from([None, 0]))
def test_a_connection_that_was_not_pushed_home_is_not_judged(force, pushed):
    result = result_of("retention", pulls=((force, 1),), pushed=pushed)
    assert result.decision == Decision.NOT_TESTED


@settings(max_examples=40)
@given(force=figures(1, 200), more=figures(0, 50), off=st.sampled_from([0, 1]))
def test_more_force_is_never_worse(force, more, off):
    grave = [Decision.FAIL, Decision.NOT_TESTED, Decision.PASS]
    one, other = (grave.index(result_of("retention", pulls=((f, off),)).decision) for f in (force, force + more))
    assert other >= one


def test_the_manufacturers_force_comes_first():
    own = {"retention": limit(30, None, key="retention", unit="N")}
    assert result_of("retention", context(limits=own), pulls=((35, 1),)).decision == Decision.PASS
    assert result_of("retention", context(limits=own), pulls=((30, 1),)).decision == Decision.FAIL
    assert choose_limit(CONNECTORS.default_limits, "retention").lower_si == 50


def test_what_came_off_just_below_the_force_is_more_likely_a_fail_than_not_tested():
    """By hand: 49.5 N read to 0.1 N with U 1 N: 0.5 N below the limit and within U of it."""
    gauge = Meter("N", "N", 200, 0.1, 0.0, 1.0)
    given_sheet = connectors()
    given_sheet.tables["pulls"] = ({"force": flow(49.5, "N", "N"), "came_off": yes(1)},)
    result = evaluate("connectors", given_sheet, context(gauge.instrument())).result("retention")
    assert result.decision == Decision.CONDITIONAL_FAIL


@pytest.mark.parametrize("force", [48, 51, 55])
def test_the_probability_of_conformity_is_that_of_draws(force):
    """JCGM 101: 1e5 draws of a force gauge of 2 % + 0.5 N (k = 2) read to 1 N."""
    gauge = Meter("N", "N", 200, 1, 0.02, 0.5)
    given_sheet = connectors(pulls=((force, 1),))
    given_sheet.tables["pulls"] = ({"force": flow(force, "N", "N"), "came_off": yes(1)},)
    result = evaluate("connectors", given_sheet, context(gauge.instrument())).result("retention")
    random = np.random.default_rng(2)
    true = force + gauge.std(force) * random.standard_normal(100_000) + random.uniform(-0.5, 0.5, 100_000)
    assert result.std_uncertainty_si == approx(true.std(), rel=0.01)
    assert result.probability == approx(np.mean(true >= 50), abs=0.01)
