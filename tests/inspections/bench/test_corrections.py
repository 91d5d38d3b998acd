"""Readings corrected by the points of a certificate."""

import json
from dataclasses import replace
from math import hypot, sqrt

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from fleet.calibration.points import Point
from inspections.bench import Context, Dimension, Instrument, Reading, Sheet, get_test, to_si
from inspections.bench.corrected_readings import Corrections
from inspections.bench.corrections import Correction, correction_from_dict, correction_of, correction_to_dict
from inspections.bench.propagation import Measured
from inspections.bench.serialise import instrument_from_dict, instrument_to_dict
from inspections.bench.uncertainty import fit_line
from tests.inspections.bench.making import gauge

# Source: JCGM 100:2008, H.3, table H.6 (check-values.md, section 13; recomputed there): readings and corrections, °C.
H3_READINGS = (21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511)
H3_CORRECTIONS = (-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160)
ENDS = st.floats(-50, 50)


def points(*pairs, expanded=0.1):
    """Points from (reading, error)."""
    return [Point(reading - error, reading, expanded) for reading, error in pairs]


def made(*pairs, expanded=0.1, **more):
    return correction_of(points(*pairs, expanded=expanded), "C-1", factor=1.0, zero=0.0, **more)


@given(
    slope=st.floats(-0.2, 0.2),
    offset=ENDS,
    readings=st.lists(ENDS, min_size=3, max_size=8, unique=True),
    share=st.floats(0, 1),
)
def test_the_correction_of_a_linear_error_undoes_it(slope, offset, readings, share):
    readings = sorted(round(one, 2) for one in readings)
    assume(all(b - a > 0.02 for a, b in zip(readings, readings[1:], strict=False)))
    correction = made(*((one, offset + slope * one) for one in readings))
    reading = readings[0] + share * (readings[-1] - readings[0])
    assert reading - correction.error_at(reading) == pytest.approx(reading - offset - slope * reading, abs=1e-9)
    assert correction.residual_si == pytest.approx(0, abs=1e-9)


@given(st.lists(st.tuples(ENDS, ENDS), min_size=2, max_size=9, unique_by=lambda one: round(one[0] - one[1], 3)), ENDS)
def test_between_points_the_error_is_that_of_numpy(pairs, reading):
    """Source: numpy.interp, with (reading, error) sorted by reading."""
    correction = made(*pairs)
    ordered = sorted(pairs, key=lambda pair: pair[0] - pair[1])
    if correction is None:
        assert any(b[0] <= a[0] for a, b in zip(ordered, ordered[1:], strict=False))
        return
    expected = np.interp(reading, [one for one, _ in sorted(pairs)], [error for _, error in sorted(pairs)])
    assert correction.error_at(reading) == pytest.approx(expected, abs=1e-6)


def test_the_line_of_gum_h3_lies_within_what_the_correction_leaves_uncertain():
    """H.3 fits y1 = -0.1712, y2 = 0.00218 about 20 °C to the same points: at no reading is it 2 u away."""
    line = fit_line(H3_READINGS, H3_CORRECTIONS, origin=20.0)
    assert (line.intercept.value, line.slope.value) == pytest.approx((-0.1712, 0.00218), abs=5e-5)
    pairs = zip(H3_READINGS, H3_CORRECTIONS, strict=True)
    correction = made(*((reading, -value) for reading, value in pairs), expanded=0.002)
    for reading in np.linspace(21.6, 26.5, 50):
        distance = abs(-correction.error_at(reading) - line.at(reading).value)
        assert distance < 2 * correction.std_at(reading)


def test_the_uncertainty_holds_certificate_straight_lines_and_drift():
    """By hand: errors 0, 1, 0 at 0, 10, 20: the line between the ends misses 1; drift 0.6; U 0.4 with k = 2."""
    correction = made((0, 0), (10, 1), (20, 0), expanded=0.4, drift=0.6)
    assert (correction.residual_si, correction.drift_si) == (1, 0.6)
    assert correction.std_at(5) == pytest.approx(hypot(0.2, 1 / sqrt(3), 0.6 / sqrt(3)))


def test_two_points_leave_half_the_difference_of_their_errors():
    assert made((0, 0.2), (10, 1.0)).residual_si == pytest.approx(0.4)


def test_a_reading_at_either_end_is_covered_though_its_conversion_was_rounded():
    correction = Correction("C-1", (0.1, 100.0), (0.0, 0.0), (0.1, 0.1))
    assert correction.covers(100.0 * (1 + 4e-10)) and correction.covers(0.1 * (1 - 4e-8))
    assert not correction.covers(100.0 * (1 + 4e-9)) and not correction.covers(0.1 - 4e-7)


def test_where_a_correction_reaches_beyond_its_points_the_error_grows_with_the_reading():
    """By hand: 2 too high at 100 is 3 too high at 150; 1 too low at 10 is 0.5 too low at 5; the side of zero counts."""
    reaching = Correction("C-1", (10.0, 100.0), (-1.0, 2.0), (0.1, 0.1), reaches_beyond=True)
    assert [reaching.error_at(one) for one in (5.0, 10.0, 100.0, 150.0)] == pytest.approx([-0.5, -1.0, 2.0, 3.0])
    assert reaching.error_at(-5.0) == -1.0
    held = replace(reaching, reaches_beyond=False)
    assert [held.error_at(one) for one in (5.0, 150.0)] == [-1.0, 2.0]


def test_one_point_and_a_scale_that_falls_back_correct_nothing():
    assert made((0, 0)) is None
    assert correction_of([Point(0, 5, 1), Point(10, 4, 1)], "C", factor=1, zero=0) is None


def test_a_correction_reads_back_from_a_record_to_the_last_bit():
    correction = made((0.1, 0.3), (7.7, 1 / 3), (20.2, 0.1), drift=0.07)
    assert correction_from_dict(json.loads(json.dumps(correction_to_dict(correction))), "c") == correction


@pytest.mark.parametrize("readings", [(1.0,), (1.0, 1.0), (2.0, 1.0)])
def test_a_correction_without_two_rising_readings_is_refused(readings):
    with pytest.raises(ValueError, match="correction"):
        Correction("C", readings, (0.0,) * len(readings), (0.1,) * len(readings))


def corrected_gauge(*pairs_psi, **more):
    plain = gauge()
    factor = to_si(1, "psi")
    correction = correction_of(points(*pairs_psi, expanded=0.02), "C-1", factor=factor, zero=0.0, **more)
    return Instrument(plain.code, plain.name, (replace(plain.scales[0], correction=correction),))


def pressure_of(instrument, value=50.0, unit="psi", **more):
    sheet = Sheet({"pressure": Reading(value, unit, None, instrument.code)}, {}, {})
    evaluation = get_test("pipeline-supply").evaluate(sheet, Context(instruments={instrument.code: instrument}, **more))
    return evaluation.result("pressure"), evaluation.remarks


LABEL = next(one.label for one in get_test("pipeline-supply").readings if one.key == "pressure").lower()
ERRORS = ((0, 0.5), (40, 0.5), (100, 1.1))


def test_a_reading_is_corrected_and_the_record_says_so():
    """At 50 psi the error is 0.6 (0.5 + 10/60 of 0.6): 49.4 psi. Arithmetic."""
    result, remarks = pressure_of(corrected_gauge(*ERRORS))
    assert result.value_si == pytest.approx(to_si(49.4, "psi"))
    assert "Corrected by certificate C-1 of instrument G: 1 pressure reading, by -0.6 psi." in remarks


def test_certificate_and_straight_lines_take_the_place_of_the_accuracy():
    correction = corrected_gauge(*ERRORS).scales[0].correction
    result, _ = pressure_of(corrected_gauge(*ERRORS))
    resolution = to_si(0.1, "psi") / sqrt(12)
    assert result.std_uncertainty_si == pytest.approx(hypot(correction.std_at(to_si(50, "psi")), resolution))


def test_beyond_the_points_nothing_is_corrected_and_the_record_says_so():
    instrument = corrected_gauge((0, 0.5), (40, 0.5), (45, 0.9))
    result, remarks = pressure_of(instrument)
    plain, _ = pressure_of(gauge())
    assert (result.value_si, result.std_uncertainty_si) == (plain.value_si, plain.std_uncertainty_si)
    assert [one.lower() for one in remarks if one.startswith("Not corrected")] == [
        f"not corrected by certificate c-1 of instrument g: {LABEL}, beyond the points of the certificate, 0 to 45 psi."
    ]


def test_an_error_that_was_found_moves_the_value_and_leaves_the_accuracy():
    result, _ = pressure_of(corrected_gauge(*ERRORS, replaces_accuracy=False))
    plain, _ = pressure_of(gauge())
    assert result.value_si == pytest.approx(to_si(49.4, "psi"))
    assert result.std_uncertainty_si == plain.std_uncertainty_si


@given(st.floats(1, 99).map(lambda value: round(value, 2)), st.floats(90_000, 105_000))
def test_a_correction_does_not_depend_on_the_unit_of_the_reading(value, ambient):
    instrument = corrected_gauge(*ERRORS)
    psi, _ = pressure_of(instrument, value, ambient_pa_abs=ambient)
    kpa, _ = pressure_of(instrument, value * 6.894757293168361, "kPa", ambient_pa_abs=ambient)
    assert kpa.value_si == pytest.approx(psi.value_si)
    assert kpa.std_uncertainty_si == pytest.approx(psi.std_uncertainty_si)


def test_the_error_of_a_corrected_scale_cancels_in_a_difference():
    """Both readings share what the certificate leaves uncertain: their difference keeps the resolution only."""
    instrument = corrected_gauge((0, 0.5), (50, 0.5), (100, 0.5))
    sheet = Sheet(
        {"pressure": Reading(50.0, "psi", None, "G"), "flowing_pressure": Reading(48.0, "psi", None, "G")}, {}, {}
    )
    results = get_test("pipeline-supply").evaluate(sheet, Context(instruments={"G": instrument})).results
    drop = next(one for one in results if one.key != "pressure" and one.value_si == pytest.approx(to_si(2, "psi")))
    assert drop.std_uncertainty_si == pytest.approx(sqrt(2) * to_si(0.1, "psi") / sqrt(12), rel=1e-6)


def test_a_flow_below_zero_after_its_correction_is_zero():
    spec = next(one for one in get_test("oxygen-flush").readings if one.key == "flow")
    held = Corrections(101_325.0).corrected(
        Measured(0.0), replace(gauge().scales[0], correction=made((0, 0.5), (10, 0.5))), spec, ("F", 0)
    )
    assert (spec.dimension, held.value) == (Dimension.FLOW, 0.0)


def test_an_instrument_with_a_correction_reads_back_from_its_dictionary():
    instrument = corrected_gauge(*ERRORS)
    assert instrument_from_dict(json.loads(json.dumps(instrument_to_dict(instrument)))) == instrument
    assert "correction" not in json.dumps(instrument_to_dict(gauge()))
