"""The error of a flowmeter tube over its scale, by both conventions, and the basal flow."""

from dataclasses import replace
from math import sqrt

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from fluids.flow_meter import flow_meter_discharge
from hypothesis import given, settings
from hypothesis import strategies as st
from pytest import approx
from scipy import stats

from inspections.bench import (
    Accuracy,
    BenchError,
    Decision,
    Dimension,
    Instrument,
    Reading,
    Reason,
    Scale,
    Zero,
    get_test,
    to_si,
)
from inspections.bench.float_flow import DENSITY, OXYGEN_93, TUBE_GASES, density, true_per_shown
from tests.inspections.bench.making import context, evaluate, flow, flowmeter, limit, pressure, rows, shown
from tests.inspections.bench.sound_sheets import CREDIT, TUBE_CARD, basal, tube

SEA, MEXICO = 101_325.0, 77_162.0  # Pa abs at 0 and 2240 m: U.S. Standard Atmosphere 1976, geometric
FINE = {"division": flow(0.001)}
FLUIDS = {"oxygen": "Oxygen", "nitrous-oxide": "NitrousOxide", "air": "Air", "carbon-dioxide": "CarbonDioxide",
          "helium": "Helium"}  # fmt: skip


def error(points, pa_abs=SEA, kelvin=293.15, more=FINE, **choices):
    """The worst error of a tube; points are (set, reference) in L/min, read exactly."""
    surroundings = context(ambient_pa_abs=pa_abs, temperature_k=kelvin)
    return evaluate("flowmeter", tube(*points, more=more, **choices), surroundings).result("worst_error")


def same(factor=1.0):
    """A tube whose reference shows `factor` times the flow set, everywhere."""
    return [(q, q * factor) for q in (1, 5, 10)]


def read_on(meter, points, more=FINE, surroundings=None, **choices):
    """The worst error of a tube whose reference is read on an instrument."""
    table = rows({"set": flow, "reference": lambda q: flow(q, instrument=meter.code)}, *points)
    given_sheet = replace(tube(more=more, **choices), tables={"errors": table})
    return get_test("flowmeter").evaluate(given_sheet, context(meter, **(surroundings or {}))).result("worst_error")


def test_the_worked_row_as_read_at_sea_level():
    """Set 2.00, reference 2.15 L/min, U 3 % with k = 2 (check-values-2, section 1, computed): -7.0 %, a pass.

    By hand: 2.00 / 2.15 - 1 = -0.0698. u = 2.00 / 2.15 x 1.5 % = 1.395 %, so P = Phi((10 - 6.98) / 1.395) = 0.985; the
    source rounds u to 1.5 % and the error to 7, and has 0.977.
    """
    meter = flowmeter(of_reading=0.03, step=1e-4)
    result = read_on(meter, [(2, 2.15), (5, 5), (10, 10)], convention="as read")
    assert result.value_si == approx(-0.0698, abs=5e-5)
    assert result.std_uncertainty_si == approx(0.01395, rel=0.01)
    assert result.probability == approx(0.985, abs=0.001)
    assert result.probability == approx(0.977, abs=0.01)
    assert result.decision is Decision.PASS


def test_the_same_readings_err_the_other_way_by_the_other_convention_at_altitude():
    """2240 m (check-values-2, section 1, computed): x 1.1459, so 2.292 was expected where 2.15 came: +6.6 %."""
    points = [(2, 2.15), (5, 5.375), (10, 10.75)]
    found = {one: evaluate("flowmeter", tube(*points, more=FINE, convention=one), context(ambient_pa_abs=MEXICO))
             for one in ("as read", "calibrated")}  # fmt: skip
    for one, other in (("as read", "calibrated"), ("calibrated", "as read")):
        worst, beside = found[one].result("worst_error"), found[other].result("other_error")
        assert worst.value_si == beside.value_si == approx(-0.0698 if one == "as read" else 0.066, abs=5e-4)
        assert worst.convention == beside.convention and worst.remark == beside.remark
        assert worst.remark.startswith("As read. Row" if one == "as read" else "At its own calibration conditions. Row")
        assert (worst.decision, beside.decision) == (Decision.PASS, None)
    assert "(set × 1.1459 - reference) / reference" in found["calibrated"].result("worst_error").convention
    assert found["as read"].result("worst_error").convention.startswith("as read: (set - reference) / reference")
    assert not any(one.startswith("The convention decides.") for one in found["as read"].remarks)


def test_the_record_says_where_the_convention_decides():
    """2240 m, reference 12 % above what is set: -10.7 % as read, +2.3 % of the tube."""
    found = evaluate("flowmeter", tube(*same(1.12), more=FINE), context(ambient_pa_abs=MEXICO))
    (words,) = [one for one in found.remarks if one.startswith("The convention decides.")]
    assert "as read alone, fail" in words and words.endswith("calibration conditions, pass.")
    (words,) = [one for one in found.remarks if one.startswith("A sound tube delivers 1.1459 times")]
    assert "as read: -10.7%" in words and words.endswith("conditions: +2.3%.")


# Source: check-values-2.md section 1 and check-values.md section 4 (computed): true over shown of a sound tube
@pytest.mark.parametrize(
    ("pa_abs", "celsius", "gases", "factor"),
    [
        (95_461, 20, {}, 1.0303), (84_560, 20, {}, 1.0947), (77_162, 20, {}, 1.1459), (64_522, 20, {}, 1.2532),
        (SEA, 30, {}, 1.0169), (SEA, 15, {}, 0.9914),
        (SEA, 20, {"test_gas": "air"}, 1.0511), (SEA, 20, {"test_gas": OXYGEN_93}, 0.9951),
        (SEA, 20, {"test_gas": "nitrous-oxide"}, 0.8505),
        (SEA, 20, {"tube_gas": "helium", "test_gas": "oxygen"}, 1 / 2.829),
    ],
)  # fmt: skip
def test_altitude_temperature_and_gas_change_what_a_sound_tube_passes(pa_abs, celsius, gases, factor):
    result = error(same(), pa_abs=pa_abs, kelvin=celsius + 273.15, **gases)
    assert result.value_si + 1 == approx(factor, abs=2e-4)


@pytest.mark.parametrize("gas", TUBE_GASES)
@pytest.mark.parametrize("pa_abs", [45e3, MEXICO, SEA, 110e3])
@pytest.mark.parametrize("celsius", [5, 20, 45])
def test_the_density_is_that_of_the_reference_library(gas, pa_abs, celsius):  # Source: CoolProp 8.0.0, real gas
    real = PropsSI("D", "T", celsius + 273.15, "P", pa_abs, FLUIDS[gas])
    assert sqrt(density(gas, pa_abs, celsius + 273.15)) == approx(sqrt(real), rel=0.002)


def test_the_oxygen_of_a_concentrator_is_that_mixture_of_the_reference_library():  # Source: CoolProp 8.0.0
    real = sum(part * PropsSI("D", "T", 293.15, "P", SEA, gas)
               for gas, part in (("Oxygen", 0.93), ("Argon", 0.05), ("Nitrogen", 0.02)))  # fmt: skip
    assert DENSITY[OXYGEN_93] == approx(real, rel=1e-5)


@given(st.floats(0.05, 8), st.floats(0.05, 8))
def test_the_correction_is_the_flow_of_an_orifice_at_one_pressure_difference(marked, tested):
    """Source: fluids 1.3, flow_meter_discharge (ISO 5167) without expansion: volume flow in each density."""

    def volume_flow(rho):
        return flow_meter_discharge(0.02, 0.01, 102_000.0, 101_900.0, rho, 0.6, 1.0) / rho

    assert true_per_shown(marked, tested) == approx(volume_flow(tested) / volume_flow(marked))


def test_a_reference_of_standard_volume_is_turned_into_that_of_the_room():
    """By hand at 77.162 kPa and 25 °C: 2.00 L/min of 20 °C, 101.325 kPa are 2.00 x 1.31315 x 298.15 / 293.15 = 2.6711.

    Set 2.5: 2.5 / 2.6711 - 1 = -6.41 % as read. Of 0 °C (273.15 K) they are 2.8667: -12.79 %.
    """
    points, more = [(2.5, 2.0), (5, 4.0), (10, 8.0)], {"pa_abs": MEXICO, "kelvin": 298.15, "convention": "as read"}
    assert error(points, reference_volume="standard", **more).value_si == approx(-0.0641, abs=5e-5)
    cold = {**FINE, "reference_temperature": flow(0, "°C")}
    assert error(points, reference_volume="standard", more=cold, **more).value_si == approx(-0.1279, abs=5e-5)
    assert error(points, **more).value_si == approx(0.25)


def test_the_calibration_conditions_of_the_tube_count():
    """By hand: marked for 77.162 kPa and 25 °C and used there: x 1, though 101.325 kPa and 20 °C would give 1.1557."""
    card = {**FINE, "calibration_pressure": pressure(77.162, "kPa", zero=Zero.ABSOLUTE),
            "calibration_temperature": flow(25, "°C")}  # fmt: skip
    assert error(same(), pa_abs=MEXICO, kelvin=298.15, more=card).value_si == approx(0, abs=1e-12)
    assert error(same(), pa_abs=MEXICO, kelvin=298.15).value_si == approx(0.1557, abs=5e-5)


def test_below_a_tenth_of_the_scale_an_error_is_reported_and_neither_corrected_nor_judged():
    """Full scale 10 (check-values-2, section 1): judged at 1.0 and above; 0.9 report only."""
    points = [(0.9, 1.8), (0.5, 0.6), *same(1.1459)]
    found = evaluate("flowmeter", tube(*points, more=FINE), context(ambient_pa_abs=MEXICO))
    low = found.result("low_error")
    assert low.value_si == approx(-0.5) and low.decision is None and "laminar" in low.why
    assert found.result("worst_error").decision is Decision.PASS
    assert error([(1.0, 2.0), *same()[1:]]).decision is Decision.FAIL
    only_low = evaluate("flowmeter", tube((0.5, 0.5), (0.9, 0.9), (0.2, 0.2)))
    assert only_low.result("worst_error").decision is Decision.NOT_TESTED


def test_a_small_error_that_is_badly_known_is_graver_than_a_larger_one_that_is_well_known():
    """1 L/min read on a scale of ± 0.08 L/min: 3 % ± 8 %. 10 L/min: 5 % ± 0.8 %. The first may be outside."""
    accuracy = Accuracy(absolute_si=to_si(0.08, "L/min"))
    scale = Scale(Dimension.FLOW, 0.0, to_si(100, "L/min"), to_si(1e-3, "L/min"), accuracy)
    points = [(1, 0.97), (5, 5), (10, 9.524)]
    found = read_on(Instrument("F", "flowmeter", (scale,)), points, convention="as read")
    assert found.value_si == approx(1 / 0.97 - 1) and "Row 1" in found.remark
    assert found.decision is not Decision.PASS


@pytest.mark.parametrize(("of_reading", "division"), [(0.08, 0.2), (0.002, 0.01)])
def test_monte_carlo_agrees_with_the_closed_form(of_reading, division):
    """JCGM 101:2008 with 100 000 draws: tube set to ± a quarter of its division, reference, air pressure, temperature.

    First the reference counts most: u 4 % of it, so 1/reference is clearly curved; then the air pressure does. The
    other rows have no error.
    """
    random, count = np.random.default_rng(11), 100_000
    surroundings = {"ambient_pa_abs": MEXICO, "temperature_k": 298.15}
    meter, points = flowmeter(of_reading=of_reading, step=1e-3), [(2, 1.6), (5, 4.548), (10, 9.096)]
    card, choices = {"division": flow(division)}, {"reference_volume": "standard", "test_gas": "air"}
    found = read_on(meter, points, card, surroundings, **choices)
    shown_flow = 2 + division / 4 * random.uniform(-1, 1, count)
    reference = 1.6 * (1 + of_reading / 2 * random.standard_normal(count)) + 0.0005 * random.uniform(-1, 1, count)
    pa_abs, kelvin = MEXICO + 1000 * random.standard_normal(count), 298.15 + random.standard_normal(count)
    passed = reference * SEA / pa_abs * kelvin / 293.15
    factor = np.sqrt(1.33118 / 1.20458 * SEA / pa_abs * kelvin / 293.15)
    drawn = shown_flow * factor / passed - 1
    assert "Row 1" in found.remark
    assert found.std_uncertainty_si == approx(np.sqrt(np.mean((drawn - found.value_si) ** 2)), rel=0.02)
    inside = np.abs(drawn - found.value_si) <= found.expanded_uncertainty_si
    assert np.mean(inside) == approx(0.9545, abs=0.01)


FLOWS = st.lists(st.tuples(st.floats(1, 10), st.floats(0.5, 15)), min_size=3, max_size=6)
PLACES = {"pa_abs": st.floats(60e3, 105e3), "kelvin": st.floats(283, 308)}


@settings(max_examples=40, deadline=None)
@given(FLOWS, PLACES["pa_abs"], PLACES["kelvin"], st.sampled_from(["as read", "calibrated"]))
def test_the_unit_of_entry_and_the_order_of_the_rows_do_not_matter(points, pa_abs, kelvin, convention):
    def of(points, unit, number, **card):
        values = {"full_scale": Reading(number, unit), **card}
        columns = {"set": lambda q: flow(q, unit), "reference": lambda q: flow(q, unit)}
        given_sheet = replace(tube(more=values, convention=convention), tables={"errors": rows(columns, *points)})
        found = evaluate("flowmeter", given_sheet, context(ambient_pa_abs=pa_abs, temperature_k=kelvin))
        return found.result("worst_error")

    litres = of(points, "L/min", 10, **TUBE_CARD | {"division": flow(0.1, "L/min")})
    card = {"division": flow(100, "mL/min"), "calibration_temperature": flow(69.8, "°F"),
            "calibration_pressure": pressure(14.503773773, "psi", zero=Zero.ABSOLUTE)}  # fmt: skip
    other = of([(q * 1000, r * 1000) for q, r in reversed(points)], "mL/min", 10_000, **card)
    assert other.value_si == approx(litres.value_si, rel=1e-6, abs=1e-7) and other.decision == litres.decision


@settings(max_examples=40, deadline=None)
@given(FLOWS, st.sampled_from(["as read", "calibrated"]), st.floats(1.01, 2))
def test_the_error_falls_as_the_reference_rises_and_lies_between_those_of_the_rows(points, convention, more):
    found = error(points, convention=convention).value_si
    errors = [q / r - 1 for q, r in points]
    assert min(errors) - 1e-9 <= found <= max(errors) + 1e-9
    one, other = (error(same(by), convention=convention).value_si for by in (1.0, more))
    assert other < one


@settings(max_examples=40, deadline=None)
@given(st.floats(50e3, 104e3), st.floats(1.01, 1.2), st.sampled_from(["oxygen", "air", "nitrous-oxide"]),
       st.sampled_from(["oxygen", "air", "nitrous-oxide"]))  # fmt: skip
def test_thinner_gas_passes_more_and_two_gases_that_change_places_undo_each_other(pa_abs, less, one, other):
    here, higher = (error(same(), pa_abs=max(pa, 45e3)).value_si for pa in (pa_abs, pa_abs / less))
    assert higher > here or pa_abs / less < 45e3
    there, back = (error(same(), tube_gas=a, test_gas=b).value_si + 1 for a, b in ((one, other), (other, one)))
    assert there * back == approx(1)
    as_read = {error(same(), pa_abs=pa, convention="as read").value_si for pa in (SEA, pa_abs)}
    assert as_read == {0.0}


def test_agent_in_the_gas_is_warned_about_and_not_judged():
    found = evaluate("flowmeter", tube(off=0))
    assert any("6 to 26 % wrongly" in remark for remark in found.remarks)
    result = found.result("worst_error")
    assert (result.decision, result.reason) == (Decision.NOT_TESTED, Reason.BLIND)
    assert not any("6 to 26 %" in remark for remark in evaluate("flowmeter", tube()).remarks)


def test_a_reference_that_nobody_named_decides_nothing_not_even_a_fail():
    for factor in (1.0, 3.0):
        result = evaluate("flowmeter", tube(*same(factor)), unnamed=True).result("worst_error")
        assert (result.decision, result.reason) == (Decision.NOT_TESTED, Reason.OWN_REFERENCE)


@pytest.mark.parametrize(("of_reading", "reason"), [(0.12, Reason.TOO_COARSE), (0.02, "")])
def test_a_reference_that_is_too_coarse_for_the_limit_says_so(of_reading, reason):
    result = read_on(flowmeter(of_reading=of_reading), same())
    assert result.reason == reason
    assert not reason or (result.decision is Decision.NOT_DECIDED and "wider than the limit itself" in result.why)


def test_another_gas_is_no_error_of_the_tube_as_read_unless_it_is_nearly_as_dense():
    assert error(same(), convention="as read", test_gas="nitrous-oxide").decision is Decision.NOT_TESTED
    assert error(same(), convention="as read", test_gas=OXYGEN_93).decision is Decision.PASS
    assert error(same(1.0512), test_gas="air").decision is Decision.PASS


@pytest.mark.parametrize(
    ("given_sheet", "key", "words"),
    [
        (tube((10.1, 10)), "errors[1].set", "above the full scale of the tube, 10 L/min"),
        (tube((1, 1), (5, 0)), "errors[2].reference", "the reference shows no flow"),
        (tube(full=0), "full_scale", "0 is not possible"),
        (tube(more={"division": flow(0)}), "division", "above zero and up to the full scale of 10 L/min"),
        (tube(more={"division": flow(11)}), "division", "above zero and up to the full scale of 10 L/min"),
        (tube(more={"calibration_pressure": pressure(10, "kPa", zero=Zero.ABSOLUTE)}), "calibration_pressure",
         "10 kPa absolute. Accepted: 45 to 110 kPa"),
        (tube(more={"calibration_temperature": flow(80, "°C")}), "calibration_temperature", "Accepted: -10 to 50"),
        (tube(more={"reference_temperature": flow(-60, "°C")}, reference_volume="standard"), "reference_temperature",
         "Accepted: -10 to 50"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_where_it_was_entered(given_sheet, key, words):
    with pytest.raises(BenchError, match=words) as caught:
        evaluate("flowmeter", given_sheet)
    assert caught.value.key == key


def test_a_row_with_nothing_set_has_no_error():
    found = evaluate("flowmeter", tube((0, 0.2), *same(), more=FINE))
    assert found.result("low_error") is None
    assert "Row 1: nothing was set, so it has no error. The basal flow is another test." in found.remarks


def test_the_curve_shows_the_error_over_the_scale_with_the_band_and_both_conventions():
    (curve,) = evaluate(
        "flowmeter", tube((0.5, 0.625), *same(1.1459), more=FINE), context(ambient_pa_abs=MEXICO)
    ).curves
    own, read, low = curve.series
    assert [x for x, _ in own.points] == approx([1, 5, 10])
    assert [y for _, y in own.points] == approx([0] * 3, abs=0.01)
    assert [y for _, y in read.points] == approx([-12.73] * 3, abs=0.01)
    assert low.points == (approx((0.5, -20)),)
    assert {(one.axis, round(one.value, 6)) for one in curve.marks} == {("y", -10), ("y", 10), ("x", 1)}


# --- basal flow ---


# Source: check-values.md section 4 (textbooks, memory-M): usually 150 to 300 mL/min, a few older types 50 to 250
@pytest.mark.parametrize(
    ("shown_flow", "usual", "older"),
    [(49.9, "fail", "fail"), (50, "fail", "pass"), (149.9, "fail", "pass"), (150, "pass", "pass"),
     (250.1, "pass", "fail"), (300, "pass", "fail"), (300.1, "fail", "fail"), (0, "fail", "fail")],
)  # fmt: skip
def test_the_basal_flow_is_judged_by_the_rule_of_its_type(shown_flow, usual, older):
    for kind, decision, rule in (("usual", usual, "basal-150-300"), ("older", older, "basal-50-250")):
        result = evaluate("basal-flow", basal(shown_flow, type=kind)).result("basal_flow")
        assert (result.decision, result.limit.rule, result.limit.basis) == (decision, rule, "from memory")


@given(st.none() | st.floats(0, 400))
def test_a_basal_flow_that_is_not_fitted_is_no_failure_whatever_was_read(value):
    given_sheet = basal(200 if value is None else round(value, 1), closed=None, type="none")
    if value is None:
        given_sheet = replace(given_sheet, values={})
    found = evaluate("basal-flow", given_sheet)
    assert not found.missing and any("is not a failure" in remark for remark in found.remarks)
    assert [one.decision for one in found.results] == ([] if value is None else [None])


def test_the_flow_counts_as_read_and_the_record_says_at_what_pressure_and_temperature():
    """By hand: 210 mL/min at 77.162 kPa, 21 °C: 210 x 77.162 / 101.325 x 293.15 / 294.15 = 159.4 at 20 °C, 101.325.

    Source: CoolProp 8.0.0: the same mass of oxygen.
    """
    found = evaluate("basal-flow", basal(210), context(ambient_pa_abs=MEXICO, temperature_k=294.15))
    assert shown(found, "basal_flow") == approx(210)
    (words,) = [one for one in found.remarks if one.startswith("Read at 77.2 kPa absolute and 21 °C")]
    assert "159 mL/min at 20 °C and 101.325 kPa" in words
    mass = [PropsSI("D", "T", kelvin, "P", pa, "Oxygen") for kelvin, pa in ((294.15, MEXICO), (293.15, SEA))]
    assert 210 * mass[0] / mass[1] == approx(159.4, abs=0.1)


def test_the_limit_of_the_house_comes_before_both_types():
    own = {"basal_flow": limit(to_si(180, "mL/min"), to_si(220, "mL/min"), key="basal_flow", unit="mL/min")}
    for kind in ("usual", "older"):
        result = evaluate("basal-flow", basal(230, type=kind), context(limits=own)).result("basal_flow")
        assert (result.decision, result.limit.basis) == (Decision.FAIL, "local")


@given(st.sampled_from([None, 0]), st.floats(0, 400), st.sampled_from(["usual", "older"]))
def test_a_basal_flow_with_a_control_open_is_neither_passed_nor_failed(closed, value, kind):
    result = evaluate("basal-flow", basal(round(value, 1), closed, type=kind)).result("basal_flow")
    assert result.decision is Decision.NOT_TESTED
    assert result.reason == (Reason.NOT_KNOWN if closed is None else Reason.NOT_CHALLENGED)


@settings(deadline=None)
@given(st.floats(100, 350), st.floats(0.005, 0.1))
def test_a_basal_flow_passes_only_by_a_reading_that_is_fine_enough(value, accuracy):
    """Source of the probability: scipy.stats.norm, with the resolution of 0.01 L/min left out where it is small."""
    value = round(value, 1)
    meter = flowmeter(of_reading=accuracy, step=1e-4)
    given_sheet = basal()
    named = {**given_sheet.values, "flow": flow(value, "mL/min", "F")}
    found = get_test("basal-flow").evaluate(replace(given_sheet, values=named), context(meter))
    result = found.result("basal_flow")
    std = value * accuracy / 2
    conforms = stats.norm.cdf((300 - value) / std) - stats.norm.cdf((150 - value) / std)
    assert result.probability == approx(conforms, abs=0.01)
    assert result.decision not in CREDIT or conforms > 0.79
