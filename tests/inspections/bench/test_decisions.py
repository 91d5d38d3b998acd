from math import nextafter

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx
from scipy import stats

from inspections.bench import Decision, decide, from_si, to_si
from inspections.bench.decision_words import gravity
from inspections.bench.judging import two_figures
from tests.inspections.bench.making import limit


# Source: JCGM 106:2012, clause 7 examples (values from memory, recomputed with the normal distribution)
@pytest.mark.parametrize(
    ("value", "std", "lower", "upper", "probability"),
    [
        (-5.47, 0.05, None, -5.40, 0.92),
        (509.7, 8.6, 490, None, 0.99),
        (13.6, 1.8, 12.5, 16.3, 0.66),
        (140, 6, None, 150, 0.9522),
    ],
)
def test_probability_of_conformity_follows_jcgm_106(value, std, lower, upper, probability):
    digits = 5e-5 if probability == 0.9522 else 5e-3
    assert decide(value, std, limit(lower, upper)).probability == approx(probability, abs=digits)


def test_the_guarded_speed_limit_of_jcgm_106_comes_out():
    """Source: JCGM 106:2012, clause 8: limit 100 km/h, relative u 2 %, 99.9 %: act at about 107 km/h."""
    act_at = 100 / (1 - 0.02 * stats.norm.ppf(0.999))
    assert act_at == approx(106.59, abs=0.005)
    assert 1 - decide(act_at, 0.02 * act_at, limit(upper=100)).probability == approx(0.999, abs=1e-6)


def test_the_machine_leak_of_140_under_a_limit_of_150_passes_on_condition():
    """By hand: U = 12 at k = 2, so acceptance ends at 138: 140 is inside the limit, outside acceptance."""
    verdict = decide(140, 6, limit(upper=150))
    assert (verdict.decision, verdict.expanded_uncertainty, verdict.acceptance_upper) == (
        Decision.CONDITIONAL_PASS, 12, 138,
    )  # fmt: skip
    assert decide(140, 6, limit(upper=150), guard_factor=0).decision == Decision.PASS


# Source: ILAC-G8:09/2019, 4.2.3 (non-binary statement with guard band w = U)
@pytest.mark.parametrize(
    ("value", "decision"),
    [
        (138, "pass"), (138.01, "conditional pass"), (150, "conditional pass"), (150.01, "conditional fail"),
        (162, "conditional fail"), (162.01, "fail"),
    ],
)  # fmt: skip
def test_the_four_statements_meet_at_the_guard_band(value, decision):
    assert decide(value, 6, limit(upper=150)).decision == decision
    assert decide(-value, 6, limit(lower=-150)).decision == decision


# Source: ILAC-G8:09/2019, table 1: guard band as a multiple of U and the specific risk of false acceptance at its edge
@pytest.mark.parametrize(("factor", "risk"), [(0, 0.5), (0.83, 0.05), (1, 0.025), (1.5, 0.0016), (3, 1e-6)])
def test_risk_at_the_edge_of_acceptance_stays_under_that_of_ilac_g8(factor, risk):
    edge = decide(0, 1, limit(upper=100), guard_factor=factor).acceptance_upper
    at_edge = decide(edge, 1, limit(upper=100), guard_factor=factor)
    assert at_edge.decision == Decision.PASS
    assert 1 - at_edge.probability <= risk
    assert 1 - at_edge.probability == approx(stats.norm.sf(2 * factor))


def test_two_limits_close_together_leave_no_room_for_a_plain_pass():
    assert decide(10, 1, limit(9, 11)).decision == Decision.CONDITIONAL_PASS


def test_the_worse_of_two_limits_decides():
    assert decide(9.5, 0.1, limit(9.4, 20)).decision == Decision.CONDITIONAL_PASS
    assert decide(21, 0.1, limit(9.4, 20)).decision == Decision.FAIL
    assert decide(21, 0.1, limit(9.4, 20)).margin == approx(-1)


def test_on_the_limit_is_within_it_but_not_for_a_strict_limit():
    assert decide(90, 0, limit(lower=90)).decision == Decision.PASS
    assert decide(90, 0, limit(lower=90)).probability == 1
    assert decide(90, 0, limit(lower=90, strict=True)).decision == Decision.FAIL
    assert decide(90, 0, limit(lower=90, strict=True)).probability == 0
    assert decide(90, 1, limit(lower=90, strict=True)).decision == Decision.CONDITIONAL_FAIL


def test_rounding_of_a_conversion_does_not_move_a_decision():
    edge = to_si(30, "psi")
    for value in (edge, nextafter(edge, 1e9), to_si(from_si(edge, "mmHg"), "mmHg")):
        assert decide(value, 0, limit(upper=edge)).decision == Decision.PASS


def test_few_degrees_of_freedom_widen_the_guard_band():  # Source: JCGM 100:2008, table G.2: k = 2.65 at 5 dof
    assert decide(140, 4, limit(upper=150), dof=5).acceptance_upper == approx(150 - 4 * 2.65, abs=0.02)


@given(value=st.floats(-1e3, 1e3), std=st.floats(1e-6, 1e2), lower=st.floats(-500, 0), width=st.floats(0, 500))
def test_probability_is_one_number_for_either_way_of_asking(value, std, lower, width):
    both = decide(value, std, limit(lower, lower + width))
    assert 0 <= both.probability <= 1
    mirrored = decide(-value, std, limit(-lower - width, -lower))
    assert both.decision == mirrored.decision
    assert both.probability == approx(mirrored.probability, abs=1e-9)


@given(value=st.floats(-1e3, 1e3), std=st.floats(0, 1e2))
def test_a_pass_and_a_fail_never_hide_a_doubt(value, std):
    verdict = decide(value, std, limit(upper=0))
    if verdict.decision == Decision.PASS:
        assert verdict.probability > 0.97
    if verdict.decision == Decision.FAIL:
        assert verdict.probability < 0.03


def test_a_value_that_is_no_number_is_not_judged():
    with pytest.raises(ValueError, match="finite"):
        decide(float("nan"), 1, limit(upper=1))


def test_decisions_are_sorted_the_gravest_first():
    words = ["pass, limit not confirmed", "", "fail", "pass", "fail, limit not confirmed", "not known here"]
    assert [gravity(word) for word in sorted(words, key=gravity)] == sorted(gravity(word) for word in words)
    assert gravity("fail") == gravity("fail, limit not confirmed") < gravity("pass") < gravity("") == gravity("other")


@pytest.mark.parametrize(("value", "shown"), [(10.4, "10"), (9.96, "10"), (0.0123, "0.012"), (-2.5, "-2.5"), (0, "0")])
def test_two_figures_are_shown_without_a_trailing_nought(value, shown):
    assert two_figures(value) == shown
