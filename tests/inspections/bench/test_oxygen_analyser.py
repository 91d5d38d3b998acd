"""The oxygen analyser by the oxygen of the site, against worked rows, CoolProp, a simulation, and any reading."""

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx
from scipy.stats import norm

from fleet.catalogue.atmosphere import ambient_pressure_pa_abs
from fleet.catalogue.oxygen_supply import GRADES, OxygenGrade, SuppliedOxygen
from inspections.bench import TESTS, BenchError, Decision, choose_limit, from_si
from inspections.bench.breaths import BODY_VAPOUR_PA
from inspections.bench.examples import EXAMPLES
from inspections.bench.oxygen_here import AIR, expected_reading
from inspections.bench.serialise import context_from_dict, context_to_dict
from tests.inspections.bench.making import context, evaluate, flow, limit, sheet
from tests.inspections.bench.sound_sheets import figures

WEAK = SuppliedOxygen(OxygenGrade.OXYGEN_93)
SEA_LEVEL = 101_325.0
GRADES_AND_NONE = st.sampled_from([SuppliedOxygen(), SuppliedOxygen(percent=99.6), WEAK,
                                   SuppliedOxygen(OxygenGrade.OXYGEN_93, 91.0)])  # fmt: skip


def analysed(air=21.0, flush=97.0, oxygen=None, surroundings=None, **choices):
    given_sheet = sheet({"air_reading": flow(air, "%"), "flush_reading": flow(flush, "%")}, **choices)
    return evaluate("oxygen-analyser", given_sheet, surroundings or context(oxygen=oxygen or SuppliedOxygen()))


# Source: computed rows of the reference values, section 8: 20.95 x P/101.325, less 47 mmHg where saturated
@pytest.mark.parametrize(
    ("altitude", "fraction", "shows", "moisture", "expected"),
    [
        (2240, AIR, "partial pressure", "dry", 15.95),
        (3650, AIR, "partial pressure", "dry", 13.34),
        (0, AIR, "percentage", "saturated", 19.65),
        (0, 1.0, "percentage", "saturated", 93.8),
        (0, 1.0, "partial pressure", "saturated", 93.8),
        (3650, AIR, "percentage", "dry", 20.95),
    ],
)
def test_a_right_analyser_shows_what_the_altitude_and_the_moisture_leave(altitude, fraction, shows, moisture, expected):
    found = expected_reading(fraction, ambient_pressure_pa_abs(altitude), shows=shows, moisture=moisture)
    assert 100 * found == approx(expected, abs=0.011)


def test_water_takes_what_coolprop_says_at_37_degrees():
    """Source: CoolProp, IAPWS-95."""
    assert PropsSI("P", "T", 310.15, "Q", 1, "Water") == approx(BODY_VAPOUR_PA, rel=1e-4)


def test_a_site_on_oxygen_93_is_judged_about_93_percent():
    """By hand: 2.5 + 2.5 % of 93 = 4.825; 93 - 4.825 = 88.175, 93 + 4.825 = 97.825. The grade is 93 ± 3, so that
    u = 3 / sqrt 3 = 1.732 and U = 1.65 x 1.732 = 2.85: sure to pass from 91.0 to 95.0, sure to fail below 85.3.
    """
    judge = analysed(oxygen=WEAK, flush=93).result("flush_reading")
    assert [from_si(end, "%") for end in (judge.limit.lower_si, judge.limit.upper_si)] == approx([88.175, 97.825])
    assert judge.expanded_uncertainty_si == approx(0.0285, abs=5e-4)
    decided = [analysed(oxygen=WEAK, flush=one).result("flush_reading").decision for one in (85.2, 87, 90, 91.1, 94.9)]
    assert [str(one) for one in decided] == ["fail", "conditional fail", "conditional pass", "pass", "pass"]
    assert "oxygen 93, 90 to 96 %, from concentrators; percentage not stated" in judge.remark
    assert "Expected here: 93 %." in judge.remark and judge.limit.note in judge.remark


def test_a_percentage_that_the_site_states_decides_more():
    """By hand: stated 91 % ± 1: limits 86.225 to 95.775; u = 1 / sqrt 3 = 0.577, U = 0.95."""
    stated = SuppliedOxygen(OxygenGrade.OXYGEN_93, 91.0)
    found = analysed(oxygen=stated, flush=87.3).result("flush_reading")
    assert found.decision is Decision.PASS
    assert from_si(found.limit.lower_si, "%") == approx(86.225)
    assert analysed(oxygen=WEAK, flush=87.3).result("flush_reading").decision is not Decision.PASS


def test_right_analysers_are_failed_one_time_in_ten_by_the_rule_for_pure_oxygen():
    """Source: reference values, section 8: supply 93 %, u 2.4 %: 10.6 % of right monitors read 90 % or less.

    By the limit of the site fewer than Phi(-4.825 / 2.4) x 2 = 4.4 % lie outside, and none of them surely.
    """
    readings = np.random.default_rng(8).normal(93, 2.4, 4000)
    published = choose_limit(TESTS["oxygen-analyser"].default_limits, "flush_reading", rule="fda93")
    failed = np.mean(readings <= from_si(published.lower_si, "%"))
    assert failed == approx(norm.cdf((90 - 93) / 2.4), abs=0.015)
    assert norm.cdf((90 - 93) / 2.4) == approx(0.106, abs=5e-4)
    surely = [analysed(oxygen=WEAK, flush=min(round(one, 2), 100)).result("flush_reading").decision is Decision.FAIL
              for one in readings[:400]]  # fmt: skip
    assert np.mean(surely) < 0.01


@given(figures(15, 30), figures(30, 100), st.floats(60_000, 104_000))
def test_a_site_on_oxygen_is_judged_as_without_any_word_of_its_supply(air, flush, ambient):
    """Records of before carry no oxygen: what they were judged by stays, at any altitude."""
    before = analysed(air, flush, surroundings=context(ambient_pa_abs=ambient))
    for oxygen in (SuppliedOxygen(), SuppliedOxygen(percent=99.7)):
        assert analysed(air, flush, surroundings=context(ambient_pa_abs=ambient, oxygen=oxygen)) == before
    assert [before.result(key).limit.rule for key in ("air_reading", "flush_reading")] == ["iso80601-2-55", "fda93"]
    assert before.result("flush_reading").expanded_uncertainty_si == 0
    assert (before.result("flush_reading").decision is Decision.PASS) == (flush > 90)


def test_a_limit_that_was_set_here_wins_over_what_follows_from_the_supply():
    own = {"flush_reading": limit(lower=0.85, key="flush_reading", unit="%")}
    found = analysed(flush=86, surroundings=context(limits=own, oxygen=WEAK)).result("flush_reading")
    assert found.limit.basis == "local"
    named = choose_limit(TESTS["oxygen-analyser"].default_limits, "flush_reading", rule="fda93")
    given_here = context(limits={"flush_reading": named}, oxygen=WEAK)
    assert analysed(flush=93, surroundings=given_here).result("flush_reading").limit.rule == "iso80601-2-55-here"


@given(GRADES_AND_NONE, st.floats(60_000, 104_000), figures(16, 26), figures(60, 100), st.sampled_from(["dry", "wet"]))
def test_the_unit_of_entry_does_not_matter(oxygen, ambient, air, flush, moisture):
    choices = {"moisture": "saturated" if moisture == "wet" else "dry", "shows": "partial pressure"}
    surroundings = context(ambient_pa_abs=ambient, oxygen=oxygen)
    percent = analysed(air, flush, surroundings=surroundings, **choices)
    given_sheet = sheet({"air_reading": flow(air * 1e4, "ppm"), "flush_reading": flow(flush * 1e4, "ppm")}, **choices)
    ppm = evaluate("oxygen-analyser", given_sheet, surroundings)
    for one, other in zip(percent.results, ppm.results, strict=True):
        assert (one.decision, one.value_si) == (other.decision, approx(other.value_si))


@given(st.floats(50_000, 104_000), st.floats(50_000, 104_000), st.floats(0.2, 1), st.sampled_from(["dry", "saturated"]))
def test_thinner_air_and_moisture_never_raise_what_is_expected(one, other, fraction, moisture):
    low, high = sorted((one, other))
    for shows in ("percentage", "partial pressure"):
        at_low, at_high = (
            expected_reading(fraction, ambient, shows=shows, moisture=moisture) for ambient in (low, high)
        )
        assert at_low <= at_high * (1 + 1e-12)
        assert at_high <= expected_reading(fraction, high, shows=shows, moisture="dry") + 1e-15


def test_the_uncertainty_of_what_is_expected_agrees_with_a_simulation():
    """Source: JCGM 101: 1e5 draws of supply (rectangular) and ambient pressure, moist, as partial pressure."""
    random, ambient = np.random.default_rng(11), 77_160.0
    supply = 0.93 + 0.03 * random.uniform(-1, 1, 100_000)
    true = supply * (ambient + 1000 * random.standard_normal(100_000) - BODY_VAPOUR_PA) / SEA_LEVEL
    found = analysed(15, 65, surroundings=context(ambient_pa_abs=ambient, oxygen=WEAK), shows="partial pressure",
                     moisture="saturated").result("flush_reading")  # fmt: skip
    assert found.std_uncertainty_si == approx(true.std(), rel=0.02)
    middle = (found.limit.lower_si + found.limit.upper_si) / 2
    assert middle == approx(true.mean(), rel=1e-3)


def test_an_analyser_set_at_sea_level_is_asked_to_be_set_here():
    found = analysed(
        16, 76, surroundings=context(ambient_pa_abs=ambient_pressure_pa_abs(2240)), shows="partial pressure"
    )
    assert any("15.95 % in the room air of this site" in remark for remark in found.remarks)
    assert found.result("air_reading").decision is Decision.PASS


def test_a_mixture_from_flows_says_what_weak_oxygen_makes_of_it():
    """By hand: 30 % of the flow at 93 % oxygen is 27.9 % oxygen."""
    row = {"oxygen_set": flow(3), "other_set": flow(7), "oxygen_flow": flow(3), "other_flow": flow(7)}
    found = evaluate("oxygen-mixture", sheet({"oxygen_off_flow": flow(0)}, {"grid": (row,)}), context(oxygen=WEAK))
    assert any("30.0% of it is delivered as 27.9% oxygen" in remark for remark in found.remarks)
    pure = evaluate("oxygen-mixture", sheet({"oxygen_off_flow": flow(0)}, {"grid": (row,)}))
    assert not any("delivered as" in remark for remark in pure.remarks)


class TestContext:
    @given(GRADES_AND_NONE, st.sampled_from(["", "bellows", "hanging bellows", "piston"]))
    def test_what_is_recorded_reads_back(self, oxygen, ventilator):
        given_context = context(oxygen=oxygen, ventilator=ventilator)
        data = context_to_dict(given_context)
        assert context_from_dict(data).oxygen == oxygen and context_from_dict(data).ventilator == ventilator
        assert ("oxygen" in data) == (oxygen != SuppliedOxygen())

    @pytest.mark.parametrize(
        ("data", "where"),
        [
            ({"oxygen": {"grade": "air"}}, "context.oxygen.grade"),
            ({"oxygen": {"grade": ["oxygen"]}}, "context.oxygen.grade"),
            ({"oxygen": {"grade": "oxygen-93", "percent": 97}}, "context.oxygen.percent"),
            ({"oxygen": {"percent": "99"}}, "context.oxygen.percent"),
            ({"oxygen": {"fraction": 1}}, "context.oxygen.fraction"),
            ({"oxygen": 93}, "context.oxygen"),
            ({"ventilator": "turbine"}, "context.ventilator"),
        ],
    )
    def test_what_cannot_be_is_refused(self, data, where):
        with pytest.raises(BenchError) as caught:
            context_from_dict(data)
        assert caught.value.key == where

    def test_the_command_line_takes_the_oxygen_of_the_site(self):
        data = {**EXAMPLES["oxygen-analyser"]["context"], "oxygen": {"grade": "oxygen-93", "percent": 93.5}}
        assert context_from_dict(data).oxygen.fraction == approx(0.935)

    @pytest.mark.parametrize("grade", GRADES)
    def test_a_percentage_outside_its_grade_is_none(self, grade):
        known = GRADES[grade]
        assert SuppliedOxygen(grade, known.low).fraction < SuppliedOxygen(grade, known.high).fraction
        for percent in (known.low - 0.1, known.high + 0.1):
            with pytest.raises(ValueError, match="does not fit"):
                SuppliedOxygen(grade, percent)
