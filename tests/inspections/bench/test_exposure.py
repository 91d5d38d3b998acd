"""Exposure: averages over a case and a shift, the highest hour, and the published limits of each gas."""

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from pytest import approx
from scipy.integrate import quad, trapezoid
from scipy.ndimage import uniform_filter1d

from inspections.bench import TESTS, BenchError, Decision, Reason, from_si
from inspections.bench.exposure import highest_hour, mean_over_shift, mean_over_time
from inspections.bench.exposure_limits import mg_per_m3
from inspections.bench.rules import rules_that_apply
from tests.inspections.bench.making import context, evaluate, flow
from tests.inspections.bench.simulated import Meter
from tests.inspections.bench.sound_accessories import exposure, ppm
from tests.inspections.bench.sound_sheets import figures

EXPOSURE = TESTS["exposure"]
INTERVALS = st.lists(st.tuples(st.integers(1, 200), st.integers(0, 300)), min_size=1, max_size=7)


def result_of(key, *intervals, rule_set=None, **more):
    limits = {} if rule_set is None else {key: rules_that_apply(EXPOSURE.default_limits, key, rule_set=rule_set)[0]}
    return evaluate("exposure", exposure(*intervals, **more), context(limits=limits)).result(key)


def apart(intervals):
    minutes, parts = zip(*intervals, strict=True)
    return np.array(minutes) * 60.0, np.array(parts) * 1e-6


# --- worked by hand and from outside ---


def test_averages_by_hand():
    """By hand: 30 min at 40 and 90 at 8 ppm: (1200 + 720)/120 = 16 ppm; over 8 h 1920/480 = 4 ppm."""
    found = evaluate("exposure", exposure((30, 40), (90, 8)))
    assert from_si(found.result("case_average").value_si, "ppm") == approx(16)
    assert from_si(found.result("shift_nitrous_oxide").value_si, "ppm") == approx(4)


def test_the_highest_hour_by_hand():
    """By hand: 40 min at 1, 30 at 4, 60 at 1 ppm: the hour that holds all of the 30 min: (30 x 4 + 30 x 1)/60 = 2.5."""
    result = result_of("ceiling", (40, 1), (30, 4), (60, 1), gas="isoflurane", with_nitrous="no")
    assert from_si(result.value_si, "ppm") == approx(2.5)
    assert result.decision == Decision.FAIL


@settings(max_examples=40)
@given(INTERVALS)
def test_averages_are_those_of_trapezoids_over_the_steps(intervals):
    """Source: scipy.integrate.trapezoid over the two ends of every interval."""
    lengths, parts = apart(intervals)
    ends = np.concatenate(([0.0], np.cumsum(lengths)))
    dose = trapezoid(np.repeat(parts, 2), np.column_stack((ends[:-1], ends[1:])).ravel())
    assert mean_over_time(lengths, parts) == approx(dose / ends[-1])
    assert mean_over_shift(lengths, parts) == approx(dose / max(28_800, ends[-1]))


@settings(max_examples=40)
@given(INTERVALS)
def test_the_highest_hour_is_that_of_a_window_moved_minute_by_minute(intervals):
    """Source: scipy.ndimage.uniform_filter1d, 60 wide, over the concentration of each minute (whole minutes here)."""
    lengths, parts = apart(intervals)
    minutes = np.repeat(parts, (lengths / 60).astype(int))
    expected = minutes.mean()
    if len(minutes) > 60:
        expected = uniform_filter1d(minutes, 60, origin=-30)[: len(minutes) - 59].max()
    assert highest_hour(lengths, parts) == approx(expected, abs=1e-12)


def test_a_leak_into_a_theatre_gives_the_average_that_dilution_says():
    """Reference row: 100 m3, 20 changes an hour, 100 mL/min of nitrous oxide: 3.0 ppm, built up in 3 min.

    Source of the mean: scipy.integrate.quad of c (1 - exp(-20 t)), t in hours.
    """
    steady = 100e-6 / (100 * 20 / 60) * 1e6
    assert steady == approx(3.0)
    ends = np.linspace(0, 1, 13)
    found = [quad(lambda t: steady * (1 - np.exp(-20 * t)), low, high)[0] / (high - low)
             for low, high in zip(ends, ends[1:], strict=False)]  # fmt: skip
    result = result_of("case_average", *((5, one) for one in found))
    whole = quad(lambda t: steady * (1 - np.exp(-20 * t)), 0, 1)[0]
    assert from_si(result.value_si, "ppm") == approx(whole, rel=1e-6)
    assert whole == approx(2.85, abs=0.005)  # by hand: 3 (1 - 1/20)


@pytest.mark.parametrize(("gas", "parts", "kelvin", "printed"), [
    ("halothane", 2, 298.15, 16.15), ("enflurane", 2, 298.15, 15.1), ("isoflurane", 50, 293.15, 383),
    ("halothane", 10, 293.15, 82), ("nitrous_oxide", 100, 293.15, 183),
])  # fmt: skip
def test_a_concentration_by_mass_is_the_printed_one(gas, parts, kelvin, printed):
    """Reference rows: NIOSH at 25 °C, EH40 at 20 °C, as printed, seen."""
    assert mg_per_m3(parts * 1e-6, gas, 101_325, kelvin) == approx(printed, rel=0.003)
    assert mg_per_m3(parts * 1e-6, "other", 101_325, kelvin) == 0


def test_the_remark_gives_the_mass_at_the_pressure_of_the_room():
    found = evaluate("exposure", exposure((60, 10)), context(ambient_pa_abs=80_000, temperature_k=293.15))
    assert any("14.4 mg/m³" in remark for remark in found.remarks)  # by hand: 18.3 x 80/101.325 = 14.45


# --- limits ---


@pytest.mark.parametrize(("key", "gas", "mixed", "minutes", "limit", "rule_set"), [
    ("case_average", "nitrous_oxide", "yes", 60, 25, "us"),
    ("case_average", "nitrous_oxide", "yes", 60, 25, "european"),
    ("ceiling", "halothane", "no", 60, 2, "us"), ("ceiling_mixed", "halothane", "yes", 60, 0.5, "us"),
    ("shift_nitrous_oxide", "nitrous_oxide", "yes", 480, 100, "european"),
    ("shift_nitrous_oxide", "nitrous_oxide", "yes", 480, 50, "us"),
    ("shift_isoflurane", "isoflurane", "yes", 480, 50, "european"),
    ("shift_enflurane", "enflurane", "yes", 480, 50, "international"),
    ("shift_enflurane", "enflurane", "yes", 480, 75, "us"),
    ("shift_halothane", "halothane", "yes", 480, 10, "european"),
    ("shift_halothane", "halothane", "yes", 480, 50, "us"),
])  # fmt: skip
def test_each_gas_is_judged_by_the_limit_of_the_set_of_rules(key, gas, mixed, minutes, limit, rule_set):
    """Reference rows: NIOSH 77-140 (25, 2 and 0.5 ppm), ACGIH (50, 50, 75 ppm), EH40/2005 (100, 50, 50, 10 ppm)."""
    more = {"gas": gas, "with_nitrous": mixed, "rule_set": rule_set}
    assert result_of(key, (minutes, limit), **more).decision == Decision.PASS
    assert result_of(key, (minutes, limit * 1.001), **more).decision == Decision.FAIL


def test_isoflurane_has_no_limit_over_a_shift_in_the_united_states():
    assert rules_that_apply(EXPOSURE.default_limits, "shift_isoflurane", rule_set="us") == ()


def test_an_agent_without_a_limit_over_a_shift_is_judged_by_its_highest_hour():
    found = evaluate("exposure", exposure((60, 0.3), gas="other"))
    assert found.result("ceiling_mixed").decision == Decision.PASS
    assert any("highest hour is judged alone" in remark for remark in found.remarks)
    assert found.result("case_average").decision is None


# --- what must hold ---


@settings(max_examples=40)
@given(INTERVALS, st.integers(0, 6), st.floats(0.1, 0.9))
def test_an_interval_cut_in_two_changes_nothing(intervals, place, share):
    lengths, parts = apart(intervals)
    place %= len(lengths)
    cut = [lengths[place] * share, lengths[place] * (1 - share)]
    more = np.concatenate((lengths[:place], cut, lengths[place + 1 :])), np.insert(parts, place, parts[place])
    for function in (mean_over_time, mean_over_shift, highest_hour):
        assert function(*more) == approx(function(lengths, parts), rel=1e-9, abs=1e-15)


@settings(max_examples=40)
@given(INTERVALS)
def test_the_highest_hour_lies_between_the_average_and_the_highest_interval(intervals):
    lengths, parts = apart(intervals)
    highest = highest_hour(lengths, parts)
    assert highest <= parts.max() * (1 + 1e-12)
    if lengths.sum() >= 3600:
        assert highest * 3600 <= np.dot(lengths, parts) * (1 + 1e-9)
    assert highest == approx(highest_hour(lengths[::-1], parts[::-1]), abs=1e-15)


@settings(max_examples=40)
@given(INTERVALS, st.floats(1, 4))
def test_averages_grow_with_the_concentration_in_proportion(intervals, factor):
    lengths, parts = apart(intervals)
    for function in (mean_over_time, mean_over_shift, highest_hour):
        assert function(lengths, parts * factor) == approx(factor * function(lengths, parts), abs=1e-15)


@settings(max_examples=40)
@given(minutes=st.integers(1, 400), parts=figures(1, 200))
def test_units_of_time_and_concentration_do_not_matter(minutes, parts):
    other = exposure((minutes, parts))
    other.tables["intervals"] = ({"duration": flow(minutes / 60, "h"), "concentration": flow(parts / 1e4, "%")},)
    one, two = (evaluate("exposure", sheet).result("case_average") for sheet in (exposure((minutes, parts)), other))
    assert one.value_si == approx(two.value_si, rel=1e-9)


@example(sampled=53, given_for=60)
@example(sampled=54, given_for=60)
@settings(max_examples=40)
@given(sampled=st.integers(10, 300), given_for=st.integers(10, 600))
def test_an_average_passes_only_where_nine_tenths_of_the_gas_were_sampled(sampled, given_for):
    low = result_of("case_average", (sampled, 5), gas_time=given_for)
    assert (low.decision == Decision.PASS) == (sampled >= 0.9 * given_for)
    assert result_of("case_average", (sampled, 90), gas_time=given_for).decision == Decision.FAIL


def test_air_that_nobody_breathes_says_nothing():
    for zone, reason in ((None, Reason.NOT_KNOWN), (0, Reason.NOT_CHALLENGED)):
        for parts in (1, 300):
            result = result_of("case_average", (60, parts), zone=zone)
            assert (result.decision, result.reason) == (Decision.NOT_TESTED, reason)


def test_an_interval_of_no_length_is_refused():
    with pytest.raises(BenchError, match="Row 2: an interval of no length"):
        evaluate("exposure", exposure((60, 10), (0, 5)))


# --- uncertainty ---


@pytest.mark.parametrize("with_peak", [False, True])
def test_averages_carry_the_uncertainty_of_draws(with_peak):
    """JCGM 101: 1e5 draws; the error of the analyser is common to all intervals, the watch's likewise."""
    analyser, watch = Meter("I", "ppm", 1000, 1, 0.1, 1), Meter("W", "min", 600, 1, 0.01, 1)
    read = [(20, 12), (75, 30 if with_peak else 12), (15, 20)]
    given_sheet = exposure(*read)
    given_sheet.tables["intervals"] = tuple(
        {"duration": flow(t, "min", "W"), "concentration": flow(c, "ppm", "I")} for t, c in read
    )
    surroundings = context(analyser.instrument(), watch.instrument())
    random, count = np.random.default_rng(4), 100_000
    common, timed = random.standard_normal(count), random.standard_normal(count)
    lengths = np.array([t + watch.std(t) * timed + random.uniform(-0.5, 0.5, count) for t, _ in read])
    parts = np.array([c + analyser.std(c) * common + random.uniform(-0.5, 0.5, count) for _, c in read])
    dose = (lengths * parts).sum(axis=0)
    found = evaluate("exposure", given_sheet, surroundings)
    for key, true in (("case_average", dose / lengths.sum(axis=0)), ("shift_nitrous_oxide", dose / 480)):
        assert found.result(key).std_uncertainty_si * 1e6 == approx(true.std(), rel=0.01)
        assert from_si(found.result(key).value_si, "ppm") == approx(true.mean(), rel=2e-3)


def test_an_analyser_that_is_not_named_cannot_judge_parts_per_million():
    found = evaluate("exposure", exposure((60, 10)), unnamed=True).result("case_average")
    assert (found.decision, found.reason) == (Decision.NOT_DECIDED, Reason.TOO_COARSE)
    assert ppm(1).unit == "ppm"
