import random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx
from scipy import stats

from inspections.bench import TESTS, Decision, choose_limit, from_si, interval_from_si
from tests.inspections.bench.making import context, evaluate, flow, gauge, pressure, rows, sheet, shown

FLOWING = {"flow": flow, "pressure": pressure}
CREEP = {"time": lambda value: flow(value, "min"), "pressure": pressure}
SUPPLY = {"inlet": pressure, "outlet": pressure}
LINE = ((2, 44.6), (5, 44.0), (10, 43.1), (15, 42.0))


def regulator(flowing=LINE, creep=(), supply=(), static=45, **values):
    tables = {"flowing": rows(FLOWING, *flowing), "creep": rows(CREEP, *creep), "supply": rows(SUPPLY, *supply)}
    readings = {key: pressure(value) for key, value in {"static_pressure": static, **values}.items()}
    return sheet(readings, tables)


def test_droop_is_the_slope_of_the_flowing_line():  # Source: scipy.stats.linregress, an independent implementation
    droop = evaluate("regulator", regulator()).result("droop")
    line = stats.linregress(*zip(*LINE, strict=True))
    assert from_si(droop.value_si, "psi per L/min") == approx(-line.slope)
    assert interval_from_si(droop.std_uncertainty_si, "psi per L/min") == approx(line.stderr)
    assert droop.dof == approx(2)


def test_two_flowing_points_give_a_droop_by_hand():
    """By hand: 44 psi at 5 L/min, 43 at 10: 0.2 psi per L/min; fall from 45 static: 2 psi."""
    evaluation = evaluate("regulator", regulator([(5, 44), (10, 43)]))
    assert shown(evaluation, "droop") == approx(0.2)
    assert shown(evaluation, "droop_total") == approx(2)


def test_lock_up_creep_and_supply_effect_come_by_hand():
    """By hand: line 44 at 5, 43 at 10 meets zero flow at 45; lock-up at 45.6 rises 0.6 psi. Creep 45 to 46 psi in

    5 min is 0.2 psi/min = 1378.95 Pa/min. Outlet 44 at 2000 psi in, 45.5 at 500 psi in: supply effect 1.5 psi.
    """
    evaluation = evaluate(
        "regulator",
        regulator([(5, 44), (10, 43)], [(0, 45), (5, 46)], [(2000, 44), (500, 45.5)], lockup_pressure=45.6),
    )
    assert shown(evaluation, "lockup_rise") == approx(0.6)
    assert shown(evaluation, "creep_rate") == approx(1378.95, abs=0.005)
    assert shown(evaluation, "creep_total") == approx(1)
    assert evaluation.result("creep_total").decision == Decision.PASS
    assert shown(evaluation, "supply_effect") == approx(1.5)


def test_lock_up_carries_the_scatter_of_the_flowing_line():  # Source: scipy.stats.linregress
    rise = evaluate("regulator", regulator(lockup_pressure=45.6)).result("lockup_rise")
    line = stats.linregress(*zip(*LINE, strict=True))
    assert from_si(rise.value_si, "psi") == approx(45.6 - line.intercept)
    assert interval_from_si(rise.std_uncertainty_si, "psi") == approx(line.intercept_stderr)


def test_the_pipeline_at_50_psi_is_used_before_a_regulator_at_45():
    """45 psi out, pipeline 50 psi: margin 5 psi. Source: common practice, no source."""
    evaluation = evaluate("regulator", regulator(pipeline_pressure=50, pipeline_flowing_pressure=44))
    assert shown(evaluation, "pipeline_margin") == approx(5)
    assert evaluation.result("pipeline_margin").decision == Decision.PASS
    assert shown(evaluation, "pipeline_margin_flowing") == approx(-1)
    assert evaluation.result("pipeline_margin_flowing").decision == Decision.FAIL
    assert evaluation.result("static_pressure").decision == Decision.PASS


def test_one_flow_repeated_gives_no_droop_but_a_request():
    evaluation = evaluate("regulator", regulator([(5, 44), (5, 44.1)]))
    assert evaluation.result("droop") is None
    assert "Flowing outlet pressure: readings at 2 or more different flows" in evaluation.missing


@given(seed=st.integers(0, 10_000))
def test_the_order_of_rows_does_not_matter(seed):
    flowing, creep = list(LINE), [(0, 45), (2, 45.2), (5, 45.3)]
    straight = evaluate("regulator", regulator(flowing, creep))
    random.Random(seed).shuffle(flowing)
    random.Random(seed + 1).shuffle(creep)
    assert evaluate("regulator", regulator(flowing, creep)).results == straight.results


# Sources: FDA 1992 proposal and Ottawa checkout 45-55 psi; ASA 2008 item 6 at least 50 psi; FDA 1993 about 50 psi
@pytest.mark.parametrize(
    ("rule", "decision"),
    [
        ("fda92", "pass"),
        ("fda93", "pass"),
        ("ottawa", "pass"),
        ("asa08", "fail"),
        ("aagbi12", "fail"),
        ("nfpa99", "pass"),
    ],
)
def test_48_psi_at_the_pipeline_passes_some_rules_and_fails_others(rule, decision):
    named = choose_limit(TESTS["pipeline-supply"].default_limits, "pressure", rule=rule)
    surroundings = context(gauge(), limits={"pressure": named})
    evaluation = evaluate("pipeline-supply", sheet({"pressure": pressure(48, instrument="G")}), surroundings)
    result = evaluation.result("pressure")
    assert (result.decision, result.limit.rule) == (decision, rule)
    assert named.title in result.convention


def test_the_other_rules_are_told_beside_the_one_applied():
    evaluation = evaluate("pipeline-supply", sheet({"pressure": pressure(48), "flowing_pressure": pressure(46.5)}))
    assert "ASA 2008 item 6, at least 50 psi: fail" in evaluation.remarks[0]
    assert shown(evaluation, "sag") == approx(1.5)
