"""The absorber by carbon dioxide, pressure and sight, and the two-bag test."""

import numpy as np
import pint
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from pytest import approx
from scipy.optimize import curve_fit

from inspections.bench import TESTS, Decision, Reason, Sheet, from_si
from inspections.bench.absorber import SEEN_KEYS
from inspections.bench.limits import COMMON_PRACTICE, FROM_MEMORY, SEEN
from inspections.bench.measuring import Bench
from tests.inspections.bench.making import context, evaluate, flow, pressure, shown
from tests.inspections.bench.simulated import Meter
from tests.inspections.bench.sound_accessories import BAGS, absorber, two_bag, yes
from tests.inspections.bench.sound_sheets import CREDIT, figures


def absorber_result(key, *args, **more):
    return evaluate("absorber", absorber(*args, **more)).result(key)


# --- absorber ---


@pytest.mark.parametrize(("pressure_60", "decision"), [(6.11, "pass"), (6.13, "fail")])
def test_the_pressure_at_60_litres_a_minute_is_judged_by_the_printed_limit(pressure_60, decision):
    """Reference row: circle resistance no more than 0.6 kPa (6.1 cmH2O) at 60 L/min, from memory. Source: pint."""
    registry = pint.UnitRegistry()
    registry.define("water_column_cm = 98.0665 pascal")
    assert (0.6 * registry.kilopascal).to("water_column_cm").magnitude == approx(6.118, abs=5e-4)
    result = absorber_result("resistance", through=((60, pressure_60),))
    assert (result.decision, result.limit.basis) == (decision, FROM_MEMORY)


def test_the_pressure_at_60_from_two_lower_flows_by_hand():
    """By hand: 0.6 cmH2O at 20 and 1.2 at 40 L/min: n = 1, so 1.8 at 60; 0.6 and 2.4: n = 2, so 5.4."""
    for at_40, expected in ((1.2, 1.8), (2.4, 5.4)):
        found = evaluate("absorber", absorber(through=((20, 0.6), (40, at_40))))
        assert shown(found, "resistance") == approx(expected)


@settings(max_examples=40)
@given(n=figures(1.05, 1.95), scale=figures(0.2, 3))
def test_the_pressure_at_60_is_that_of_a_fitted_power_law(n, scale):
    """Source: scipy.optimize.curve_fit of c (q/30)^n to the same readings, started away from them."""
    flows = np.array([20.0, 30.0, 45.0])
    pressures = scale * (flows / 30) ** n
    (level, slope), _ = curve_fit(lambda q, c, m: c * (q / 30) ** m, flows, pressures, (1.0, 1.5))
    found = evaluate("absorber", absorber(through=tuple(zip(flows, pressures, strict=True))))
    assert shown(found, "resistance") == approx(level * 2**slope, rel=1e-5)


@pytest.mark.parametrize(("inspired", "decision"), [(0.5, "pass"), (0.51, "fail"), (0, "pass")])
def test_inspired_carbon_dioxide_is_judged_at_half_a_percent(inspired, decision):
    """Common practice: an absorbent is changed at 0.5 %, about 4 mmHg. By hand: 0.5 % of 760 mmHg is 3.8."""
    result = absorber_result("inspired", inspired)
    assert (result.decision, result.limit.basis) == (decision, COMMON_PRACTICE)
    millimetres = (0.005 * pint.UnitRegistry().atmosphere).to("mmHg").magnitude
    assert millimetres == approx(3.8, abs=0.005) and "4 mmHg" in result.limit.note


@example(inspired=0.1, expired=3.9)
@example(inspired=0.1, expired=4.0)
@settings(max_examples=40)
@given(inspired=figures(0, 5), expired=st.none() | figures(0, 8))
def test_an_absorber_passes_only_with_carbon_dioxide_to_absorb_and_fails_without_proof_of_it(inspired, expired):
    """What comes through fails whatever was sent in; what does not passes only where 4 % were."""
    result = absorber_result("inspired", inspired, expired)
    fed = expired is not None and expired >= 4
    assert (result.decision in CREDIT) == (fed and inspired <= 0.5)
    assert (result.decision == Decision.FAIL) == (inspired > 0.5)


@pytest.mark.parametrize("key", ["sealed", "colour_fresh", "bypass_shut"])
def test_what_is_seen_of_the_canister_fails_alone(key):
    given_sheet = absorber()
    given_sheet.values[key] = yes(0)
    found = evaluate("absorber", given_sheet)
    assert {one.key for one in found.results if one.decision == Decision.FAIL} == {key}


def test_an_absorber_without_a_bypass_is_not_asked_for_it_and_its_age_is_reported():
    given_sheet = absorber(bypass="none")
    assert evaluate("absorber", given_sheet).result("bypass_shut") is None
    del given_sheet.values["bypass_shut"]
    found = evaluate("absorber", given_sheet)
    assert found.result("bypass_shut") is None
    assert {one.decision for one in found.results} == {Decision.PASS, None}
    assert (shown(found, "age"), found.result("age").decision) == (approx(10), None)
    bench = Bench(TESTS["absorber"], given_sheet, context())
    seen = {one.key: one.is_needed(bench) for one in TESTS["absorber"].results if one.key in SEEN_KEYS}
    assert seen == {"sealed": True, "colour_fresh": True, "bypass_shut": False}


def test_an_open_bypass_is_asked_for_where_one_is_fitted():
    given_sheet = absorber()
    del given_sheet.values["bypass_shut"]
    result = evaluate("absorber", given_sheet).result("bypass_shut")
    assert (result.decision, result.reason) == (Decision.NOT_TESTED, Reason.NOT_MEASURED)


@settings(max_examples=40)
@given(days=figures(0.1, 300))
def test_an_age_in_days_is_that_in_hours(days):
    one, other = absorber(), absorber()
    one.values["age"], other.values["age"] = flow(days, "d"), flow(days * 24, "h")
    ages = [evaluate("absorber", sheet).result("age").value_si for sheet in (one, other)]
    assert ages[0] == approx(ages[1]) == approx(days * 86_400)


def test_the_pressure_at_60_carries_the_uncertainty_of_draws():
    """JCGM 101: 1e5 draws of two readings, brought to 60 L/min by the power law through them."""
    gauge, meter = Meter("M", "kPa", 10, 0.001, 0.01), Meter("F", "L/min", 100, 0.1, 0.02)
    read = ((20, 0.08), (45, 0.22))
    given_sheet = absorber()
    given_sheet.tables["through"] = tuple(
        {"flow": flow(q, "L/min", "F"), "pressure": pressure(p, "kPa", "M")} for q, p in read
    )
    found = evaluate("absorber", given_sheet, context(gauge.instrument(), meter.instrument())).result("resistance")
    random, count = np.random.default_rng(6), 100_000
    common = random.standard_normal(count), random.standard_normal(count)
    (q1, p1), (q2, p2) = (
        (q * (1 + 0.01 * common[0]) + random.uniform(-0.05, 0.05, count),
         p * (1 + 0.005 * common[1]) + random.uniform(-0.0005, 0.0005, count)) for q, p in read
    )  # fmt: skip
    true = p1 * (60 / q1) ** (np.log(p2 / p1) / np.log(q2 / q1))
    assert found.std_uncertainty_si / 1000 == approx(true.std(), rel=0.02)
    assert found.value_si / 1000 == approx(true.mean(), rel=2e-3)


# --- two bags ---


@pytest.mark.parametrize("key", BAGS)
def test_each_thing_seen_of_the_bags_fails_by_itself(key):
    """Anaesthesia 2012; 67: 660-68, two-bag test, seen: patent, valves moving, APL valve, no loss of volume."""
    found = evaluate("two-bag", two_bag(**{key: yes(0)}))
    assert found.result(key).decision == Decision.FAIL and found.result(key).limit.basis == SEEN
    if key == "flows_both_ways":
        others = {found.result(one).decision for one in BAGS if one != key}
        assert others == {Decision.NOT_TESTED}
    else:
        assert {found.result(one).decision for one in BAGS if one != key} == {Decision.PASS}


@pytest.mark.parametrize(("rest", "decision"), [(-1.1, "fail"), (-1, "pass"), (3, "pass"), (3.1, "fail")])
def test_no_pressure_is_left_between_breaths(rest, decision):
    """FDA 1993, step 12: without sustained pressure during end expiration. The figure is common practice."""
    result = evaluate("two-bag", two_bag(rest=rest)).result("rest_pressure")
    assert (result.decision, result.limit.basis) == (decision, COMMON_PRACTICE)


@example(fresh=4.4)
@example(fresh=4.5)
@example(fresh=10.1)
@settings(max_examples=40)
@given(fresh=figures(0, 40))
def test_five_to_ten_litres_of_fresh_gas_are_asked_for(fresh):
    """FDA 1993, step 12, and AAGBI 2012: fresh gas at about 5 L/min."""
    result = evaluate("two-bag", two_bag(fresh)).result("valves_move")
    assert (result.decision == Decision.PASS) == (4.5 <= fresh <= 10)
    assert evaluate("two-bag", two_bag(fresh, valves_move=yes(0))).result("valves_move").decision == Decision.FAIL


@settings(max_examples=40)
@given(rest=figures(-5, 8), unit=st.sampled_from(["kPa", "mbar", "mmHg"]))
def test_the_unit_of_the_pressure_left_does_not_matter(rest, unit):
    pascal = {"kPa": 1000, "mbar": 100, "mmHg": 133.322387415}[unit]
    other = two_bag()
    other.values["rest_pressure"] = pressure(rest * 98.0665 / pascal, unit)
    one, two = (evaluate("two-bag", sheet).result("rest_pressure") for sheet in (two_bag(rest=rest), other))
    assert one.value_si == approx(two.value_si, abs=1e-9)
    assert from_si(one.value_si, "cmH2O") == approx(rest)


def test_both_tests_belong_to_the_breathing_system():
    assert {TESTS[code].family for code in ("absorber", "two-bag")} == {TESTS["one-way-valves"].family}


@pytest.mark.parametrize("code", ["vaporizer-safety", "battery", "suction", "connectors", "exposure", "two-bag",
                                  "absorber"])  # fmt: skip
def test_a_test_of_which_nothing_was_entered_says_what_is_missing_and_judges_nothing(code):
    found = evaluate(code, Sheet())
    assert found.missing and not found.results


def test_whether_gas_moves_both_ways_judges_all_that_is_seen_of_the_bags():
    judged = {one.key for one in TESTS["two-bag"].results if one.key != "rest_pressure"}
    assert set(TESTS["two-bag"].reading_at("flows_both_ways").judges) == judged
