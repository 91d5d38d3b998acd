"""Test uncertainty ratios at typical readings, and the accuracy that a ratio needs."""

from dataclasses import replace
from math import hypot, sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.bench import TESTS, Accuracy, Reading, Sheet, Zero, get_test, to_si
from inspections.bench.examples import EXAMPLES
from inspections.bench.uncertainty_ratio import (
    DESIRED,
    needed_accuracy,
    places_of,
    ratios,
    thought_of,
    typical_sheet,
    with_instruments,
)
from tests.inspections.bench.making import gauge

# The machine is asked, no instrument is read; a certificate or a stopwatch of the hand is none that can be chosen.
OWN_READING = {"battery", "gas-monitor", "observation", "oxygen-analyser"}
MEASURING = [code for code in TESTS if code not in OWN_READING]


def of_pipeline(instrument):
    test = get_test("pipeline-supply")
    sheet, context = typical_sheet(test)
    places = places_of(test, sheet)
    sheet = with_instruments(sheet, {(one.field, one.column): instrument.code for one in places})
    return test, sheet, replace(context, instruments={instrument.code: instrument}), places


def first(test, sheet, context, **more):
    return next(one for one in ratios(test, sheet, context, more) if one.result.key == "pressure")


def test_the_ratio_is_half_the_tolerance_over_the_uncertainty_of_the_result():
    """By hand: 50 +/- 5 psi, a gauge of 1 % of 100 psi (k = 2) read in steps of 0.1: U = sqrt(1 + (2 x 0.0289)^2)."""
    test, sheet, context, _ = of_pipeline(gauge(of_span=0.01))
    one = first(test, sheet, context)
    assert one.half_tolerance_si == pytest.approx((one.limit.upper_si - one.limit.lower_si) / 2)
    assert one.expanded_si == pytest.approx(to_si(hypot(1.0, 2 * 0.1 / sqrt(12)), "psi"), rel=1e-3)
    assert one.ratio == pytest.approx(one.half_tolerance_si / one.expanded_si)


@given(st.floats(0.05, 0.5), st.sampled_from([1.0, 2.0, 4.0, 10.0]))
def test_an_instrument_of_the_accuracy_that_is_needed_has_the_ratio(of_span, wanted):
    """Round trip: the needed accuracy, put into the instrument, gives the ratio."""
    test, sheet, context, places = of_pipeline(gauge(of_span=of_span))
    one = first(test, sheet, context)
    found = needed_accuracy(test, sheet, context, places, one, wanted)
    fixed = Accuracy(absolute_si=found[0].accuracy_si)
    better = gauge()
    better = replace(better, scales=(replace(better.scales[0], accuracy=fixed),))
    assert first(*of_pipeline(better)[:3]).ratio == pytest.approx(wanted, rel=0.01)


@given(st.floats(0.001, 0.2), st.floats(1, 3))
def test_a_better_instrument_never_has_a_smaller_ratio(of_span, worse):
    fine, coarse = (first(*of_pipeline(gauge(of_span=of_span * by))[:3]).ratio for by in (1, worse))
    assert fine >= coarse * (1 - 1e-9)


def test_every_test_has_an_example_to_take_typical_readings_from():
    assert set(EXAMPLES) == set(TESTS)
    assert {code for code in TESTS if not places_of(get_test(code), typical_sheet(get_test(code))[0])} == OWN_READING


@pytest.mark.parametrize("code", MEASURING)
def test_every_test_has_ratios_at_its_typical_readings_and_says_what_would_do(code):
    """With instruments of 1 % of the reading that are thought of: what 4 : 1 needs is finer than what is there."""
    test = get_test(code)
    sheet, context = typical_sheet(test)
    places = places_of(test, sheet)
    instruments = {one.code: one for one in map(thought_of, places)}
    sheet = with_instruments(sheet, {(one.field, one.column): thought_of(one).code for one in places})
    found = ratios(test, sheet, replace(context, instruments=instruments), {})
    assert found and all(one.ratio > 0 and one.half_tolerance_si > 0 for one in found)
    for one in found:
        if one.ratio < DESIRED:
            needed = needed_accuracy(test, sheet, replace(context, instruments=instruments), places, one, DESIRED)
            assert all(0 < each.accuracy_si < 0.01 * abs(each.value_si) * (1 + 1e-9) for each in needed)


def test_typical_values_of_an_absolute_reading_are_gauge():
    """By hand: 446.325 kPa absolute is 345 kPa gauge at 101.325 kPa."""
    test = get_test("pipeline-supply")
    read = Sheet({"pressure": Reading(446.325, "kPa", Zero.ABSOLUTE, "G")}, {}, {})
    (place,) = places_of(test, read)
    assert place.values_si == pytest.approx((345_000,))


def test_no_accuracy_is_enough_where_the_resolution_leaves_more():
    test, sheet, context, places = of_pipeline(gauge(step_psi=10.0, of_span=0.1))
    one = first(test, sheet, context)
    assert needed_accuracy(test, sheet, context, places, one, 40.0) == []


def test_the_narrowest_tolerance_that_judges_a_result_counts():
    test, sheet, context, _ = of_pipeline(gauge())
    own = first(test, sheet, context).limit
    narrow = replace(own, lower_si=to_si(49, "psi"), upper_si=to_si(51, "psi"), rule="narrow")
    one = first(test, sheet, context, pressure=(own, narrow))
    assert (one.limit.rule, one.half_tolerance_si) == ("narrow", pytest.approx(to_si(1, "psi")))


def test_the_smallest_share_that_a_coarse_instrument_leaves_is_that_of_the_house_rule():
    """U above half the tolerance decides nothing (judging.py): exactly where the ratio falls below 1."""
    test, sheet, context, _ = of_pipeline(gauge(of_span=0.5))
    one = first(test, sheet, context)
    assert (one.ratio < 1) == (one.expanded_si > one.limit.tolerance_si / 2)
