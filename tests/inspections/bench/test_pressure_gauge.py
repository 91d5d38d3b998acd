"""A pressure gauge against a reference: class, hysteresis and zero, by hand and by the rule of the class."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx

from inspections.bench import Accuracy, BenchError, Decision, Dimension, Instrument, Reason, Scale, from_si, to_si
from inspections.bench.guard import evaluate as guarded
from inspections.bench.limits import FROM_MEMORY
from inspections.bench.pressure_gauge import CLASSES, class_limit
from inspections.bench.registry import get_test
from tests.inspections.bench.making import context, evaluate, pressure, rows, sheet, shown
from tests.inspections.bench.sound_closed_volumes import DOWNWARDS, UPWARDS, dial, kpa
from tests.inspections.bench.sound_sheets import CREDIT, figures

CODE, TOP = "pressure-gauge", 20_000
MARKS = (3000, 8000, 14_000, 19_000)


def found(rising=UPWARDS, falling=DOWNWARDS, zero=0, division=1, **choices):
    """A dial so finely divided that the needle adds next to nothing."""
    return evaluate(CODE, dial(rising, falling, zero, division, **choices))


def test_hysteresis_has_no_lower_limit_and_an_error_has_one():
    """Source: EN 837-1, from memory: 1.6 % either way; a difference of two readings has no sign."""
    ends = {
        key: (class_limit(key, "1.6").lower_si, class_limit(key, "1.6").upper_si)
        for key in ("worst_error", "hysteresis")
    }
    assert ends == {"worst_error": approx((-0.016, 0.016)), "hysteresis": (None, approx(0.016))}


def off_by(kilopascal, marks=MARKS):
    return tuple((mark, mark + kilopascal) for mark in marks)


def reference(accuracy_kpa, step_kpa=1.0):
    scale = Scale(Dimension.PRESSURE, 0.0, 25e6, step_kpa * 1000, Accuracy(absolute_si=accuracy_kpa * 1000))
    return Instrument("R", "reference", (scale,))


def named(given_sheet, code="R"):
    """The same sheet with a reference named in every row."""
    tables = {
        way: tuple({**row, "reference": replace(row["reference"], instrument=code)} for row in read)
        for way, read in given_sheet.tables.items()
    }
    return replace(given_sheet, tables=tables)


# --- worked by hand and from outside ---


@pytest.mark.parametrize(("code", "band"), [("1", 200), ("1.6", 320), ("2.5", 500), ("4", 800)])
def test_a_class_is_a_share_of_the_full_scale(code, band):
    """Source: EN 837-1, from memory: the class is the largest error in percent of the span; 2.5 of 20 MPa: 500 kPa."""
    for off, decision in ((band - 1, "pass"), (band + 1, "fail"), (-band + 1, "pass"), (-band - 1, "fail")):
        result = found(off_by(off), off_by(off, MARKS[:3]), accuracy_class=code).result("worst_error")
        assert result.decision == decision and result.limit.basis == FROM_MEMORY


def test_half_a_cylinder_on_a_gauge_of_class_2_5_is_uncertain_by_7_percent():
    """Source: worked case: 500 kPa of 6,895 kPa (1000 psi) are 7.3 %."""
    result = found(off_by(499), off_by(499, MARKS[:3])).result("worst_error")
    assert result.limit.upper_si * TOP / 6895 == approx(0.0725, abs=1e-4)
    assert result.decision is Decision.PASS


def test_error_hysteresis_and_zero_by_hand():
    """By hand: at 8,000 kPa rising 8,100 (0.5 %), falling 8,300 (1.5 %): hysteresis 1 %; zero 60 of 20,000: 0.3 %."""
    result = found(((3000, 3000), (8000, 8100), (19_000, 19_000)), ((8000, 8300), (3000, 3000)), zero=60)
    assert shown(result, "worst_error") == approx(1.5)
    assert shown(result, "hysteresis") == approx(1.0)
    assert shown(result, "zero_after") == approx(0.3)
    assert result.result("worst_error").remark.startswith("Falling, row 1: gauge 8300 kPa, reference 8000 kPa")


@given(figures(3500, 18_500), figures(-400, 400), figures(-400, 400))
def test_hysteresis_between_two_marks_is_that_of_a_straight_line(at, low, fell):
    """Source: numpy.interp, an independent interpolation of the rising errors."""
    errors = (low, -low / 2, low / 3, 0.0)
    rising = [(mark, mark + error) for mark, error in zip(MARKS, errors, strict=True)]
    near = min(MARKS, key=lambda mark: abs(mark - at))
    between = errors[MARKS.index(near)] if abs(near - at) <= 0.02 * TOP else np.interp(at, MARKS, errors)
    result = shown(found(rising, ((at, at + fell),)), "hysteresis")
    assert result == approx(abs(fell - between) / TOP * 100, abs=1e-6)


@pytest.mark.parametrize(("zero", "decision"), [(499, "pass"), (501, "fail"), (0, "pass")])
def test_a_needle_that_does_not_return_fails(zero, decision):
    assert found(zero=zero).result("zero_after").decision == decision


def test_a_needle_that_slipped_is_off_everywhere_and_has_no_hysteresis():
    """One error of 600 kPa at every mark and at zero: 3 % of full scale, both ways alike."""
    result = found(off_by(600), off_by(600, MARKS[:3]), zero=600)
    assert [result.result(key).decision for key in ("worst_error", "hysteresis", "zero_after")] == [
        Decision.FAIL, Decision.PASS, Decision.FAIL,
    ]  # fmt: skip


def test_a_movement_that_sticks_shows_on_the_way_down_alone():
    result = found(off_by(0), off_by(700, MARKS[:3]))
    assert result.result("hysteresis").decision is Decision.FAIL
    assert found(off_by(0), off_by(100, MARKS[:3])).result("hysteresis").decision is Decision.PASS


# --- the reference ---


def test_a_gauge_is_no_reference_for_itself():
    """Nothing is named: two gauges of the machine that agree prove neither."""
    result = guarded(get_test(CODE), dial(), context())
    for key in ("worst_error", "hysteresis"):
        one = result.result(key)
        assert (one.decision, one.reason) == (Decision.NOT_TESTED, Reason.OWN_REFERENCE)
        assert "name it" in one.why


@pytest.mark.parametrize(("accuracy", "ratio", "is_weak"), [(100, "5 to 1", False), (250, "2 to 1", True)])
def test_a_reference_that_is_hardly_finer_than_the_class_is_said(accuracy, ratio, is_weak):
    result = guarded(get_test(CODE), named(dial(accuracy_class="2.5")), context(reference(accuracy, 0.1)))
    (said,) = [one for one in result.remarks if one.startswith("The reference is uncertain")]
    assert ratio in said and ("four times as fine" in said) is is_weak


def test_a_coarse_reference_decides_nothing_near_the_limit():
    given_sheet = named(dial(off_by(450), off_by(450, MARKS[:3]), division=50, accuracy_class="2.5"))
    assert guarded(get_test(CODE), given_sheet, context(reference(5))).result("worst_error").decision in CREDIT
    coarse = guarded(get_test(CODE), given_sheet, context(reference(600))).result("worst_error")
    assert (coarse.decision, coarse.reason) == (Decision.NOT_DECIDED, Reason.TOO_COARSE)


def test_the_error_of_the_reference_cancels_in_the_hysteresis():
    """By hand: one reference both ways: what is left are two readings of the needle, a quarter of 500 kPa / sqrt(3)."""
    result = guarded(get_test(CODE), named(dial()), context(reference(300, 0.001))).result("hysteresis")
    assert from_si(result.std_uncertainty_si, "%") == approx(125 / 3**0.5 * 2**0.5 / TOP * 100, rel=1e-3)


def test_without_a_division_the_needle_is_read_to_half_a_percent():
    given_sheet = dial()
    values = {key: one for key, one in given_sheet.values.items() if key != "division"}
    result = evaluate(CODE, replace(given_sheet, values=values))
    assert any("read to ± 0.5%" in one for one in result.assumed)
    zero = result.result("zero_after").std_uncertainty_si
    assert from_si(zero, "%") == approx(0.5 / 3**0.5)


# --- what cannot be judged ---


def test_a_falling_point_beyond_the_rising_ones_gives_no_hysteresis():
    result = found(off_by(0), ((1000, 1000),))
    assert result.result("hysteresis") is None and any("for the hysteresis" in one for one in result.missing)


@pytest.mark.parametrize(("key", "value", "words"), [
    ("full_scale", 0, "above zero"), ("division", 0, "no more than the full scale"),
    ("division", 30_000, "no more than the full scale"),
])  # fmt: skip
def test_what_cannot_be_is_refused_with_what_to_do(key, value, words):
    given_sheet = dial()
    with pytest.raises(BenchError, match=words) as caught:
        evaluate(CODE, replace(given_sheet, values={**given_sheet.values, key: kpa(value)}))
    assert caught.value.key == key


def test_without_its_full_scale_nothing_is_said():
    given_sheet = dial()
    result = evaluate(CODE, replace(given_sheet, values={"zero_after": kpa(0)}))
    assert result.results == () and result.missing == ("Full scale of the gauge",)


# --- properties ---


@settings(max_examples=25)
@given(st.lists(figures(-900, 900), min_size=4, max_size=4), st.sampled_from(list(CLASSES)))
def test_a_gauge_that_passes_a_class_passes_every_coarser_one(errors, code):
    rising = [(mark, mark + error) for mark, error in zip(MARKS, errors, strict=True)]
    coarser = [one for one in CLASSES if CLASSES[one] >= CLASSES[code]]
    strict, *others = (found(rising, rising[:3], accuracy_class=one).result("worst_error") for one in coarser)
    if strict.decision in CREDIT:
        assert all(one.decision in CREDIT for one in others)


@settings(max_examples=25)
@given(st.lists(figures(-900, 900), min_size=4, max_size=4), st.randoms(use_true_random=False))
def test_the_order_of_the_rows_and_the_sign_of_the_errors_do_not_matter(errors, rng):
    rising = [(mark, mark + error) for mark, error in zip(MARKS, errors, strict=True)]
    falling = [(mark, mark - error) for mark, error in zip(MARKS[:3], errors[:3], strict=True)]
    shuffled = list(rising)
    rng.shuffle(shuffled)
    mirrored = [[(mark, 2 * mark - seen) for mark, seen in way] for way in (rising, falling)]
    one, other, mirror = found(rising, falling), found(shuffled, falling[::-1]), found(*mirrored)
    for key in ("worst_error", "hysteresis"):
        assert other.result(key).value_si == approx(one.result(key).value_si)
        assert abs(mirror.result(key).value_si) == approx(abs(one.result(key).value_si))


@settings(max_examples=25)
@given(st.lists(figures(-900, 900), min_size=4, max_size=4), st.sampled_from(["bar", "psi"]))
def test_the_unit_of_entry_does_not_matter(errors, unit):
    def as_unit(kilopascal):
        return pressure(from_si(to_si(kilopascal, "kPa"), unit), unit)

    rising = [(mark, mark + error) for mark, error in zip(MARKS, errors, strict=True)]
    columns = {"reference": as_unit, "shown": as_unit}
    values = {"full_scale": as_unit(TOP), "division": as_unit(500), "zero_after": as_unit(0)}
    other = evaluate(CODE, sheet(values, {"rising": rows(columns, *rising), "falling": rows(columns, *rising[:3])}))
    one = found(rising, rising[:3])
    for key in ("worst_error", "hysteresis"):
        assert other.result(key).value_si == approx(one.result(key).value_si, abs=1e-9)
