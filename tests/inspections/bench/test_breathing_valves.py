"""APL valve and one-way valves: the power law, worked by hand and from outside, and what each fault looks like."""

import random
from math import exp, log

import fluids
import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from hypothesis import assume, given
from hypothesis import strategies as st
from pytest import approx
from scipy import stats

from inspections.bench import TESTS, BenchError, Decision, Reason, choose_limit, from_si, to_si
from inspections.bench.limits import COMMON_PRACTICE, FROM_MEMORY
from inspections.bench.power_law import brought_to_flow, law_of, pressure_at
from inspections.bench.propagation import Measured
from tests.inspections.bench.making import context, evaluate, flow, gauge, pressure, rows, sheet, shown
from tests.inspections.bench.sound_sheets import CREDIT, apl, cm, figures, one_way

LITRE, CM = to_si(1, "L/min"), to_si(1, "cmH2O")
SIDES = ("inspiratory", "expiratory")


def pairs(*points, flow_part=0.0, pressure_part=0.0):
    """Readings (L/min, cmH2O), all of one flowmeter and one manometer, with standard uncertainties as shares."""
    return [
        (Measured(q * LITRE, shared_std=flow_part * q * LITRE, scale=("F", 0)),
         Measured(p * CM, own_std=pressure_part * p * CM))
        for q, p in points
    ]  # fmt: skip


def power(exponent, *flows, at_30=2.0):
    """Points of a passage that needs `at_30` cmH2O at 30 L/min."""
    return tuple((q, at_30 * (q / 30) ** exponent) for q in flows)


def apl_result(key, opened, **more):
    return evaluate("apl-valve", apl(opened, **more)).result(key)


# --- worked by hand ---


def test_the_pressure_of_an_open_valve_between_two_flows_by_hand():
    """By hand: 1 cmH2O at 15 L/min and 4 at 60: n = ln 4 / ln 4 = 1, so 2 at 30. With 16 at 60: n = 2, so 4 at 30."""
    assert from_si(apl_result("pressure_30", ((15, 1), (60, 4))).value_si, "cmH2O") == approx(2)
    assert from_si(apl_result("pressure_30", ((15, 1), (60, 16))).value_si, "cmH2O") == approx(4)


def test_a_closed_valve_and_its_marks_by_hand():
    """By hand: 42 mL/min at 2.8 kPa is 42 x 3 / 2.8 = 45 at 3 kPa; 44 at 3.2: 44 x sqrt(3 / 3.2) = 42.6.

    Opens at 11 cmH2O at the mark of 10, at 27.5 at 30: 1 above, 2.5 below, which is the larger.
    """
    low, high = (evaluate("apl-valve", apl(held=p, leaked=q)) for p, q in ((2.8, 42), (3.2, 44)))
    assert from_si(low.result("closed_leak").value_si, "mL/min") == approx(45)
    assert from_si(high.result("closed_leak").value_si, "mL/min") == approx(42.60, abs=0.01)
    marks = evaluate("apl-valve", apl(marks=((10, 11), (30, 27.5)))).result("opening_error")
    assert from_si(marks.value_si, "cmH2O") == approx(-2.5) and marks.decision is None
    assert "at the mark of 30 cmH2O" in marks.remark


def test_resistance_from_one_flow_carries_its_exponent_by_hand():
    """By hand: 0.2 kPa at 30 L/min, 60 is twice that: 0.2 x 2^1.5 = 0.5657 kPa, from 0.4 (n 1) to 0.8 (n 2).

    h = ln 2 / 2 = 0.34657: u/value = sqrt(sinh(2h)/2h - 2 sinh(h)/h + 1) = sqrt(1.08202 - 2.04044 + 1) = 0.2039;
    u = 0.1154 kPa, P(below 0.6) = Phi(0.0343 / 0.1154) = 0.617: below the 0.8 that a conditional pass needs.
    """
    result = evaluate("one-way-valves", one_way(((30, from_si(200, "cmH2O")),))).result("inspiratory_resistance")
    assert from_si(result.value_si, "kPa") == approx(0.5657, abs=5e-5)
    assert from_si(result.std_uncertainty_si, "kPa") == approx(0.1154, abs=5e-4)
    assert result.probability == approx(0.617, abs=2e-3)
    assert (result.decision, result.reason) == (Decision.NOT_DECIDED, Reason.TOO_COARSE)


def test_a_second_flow_decides_what_one_flow_leaves_open():
    """By hand: 0.08 kPa at 15 and 0.2 at 30 L/min: n = ln 2.5 / ln 2, so 0.2 x 2.5 = 0.5 at 60."""
    points = ((15, from_si(80, "cmH2O")), (30, from_si(200, "cmH2O")))
    result = evaluate("one-way-valves", one_way(points)).result("inspiratory_resistance")
    assert from_si(result.value_si, "kPa") == approx(0.5)
    assert result.decision is Decision.PASS and "exponent 1.32" in result.convention


# --- from outside ---


@pytest.mark.parametrize("points", [((2, 0.11), (7, 0.5), (20, 1.9), (40, 5.1)), ((5, 1), (9, 1.7), (31, 8))])
def test_the_exponent_is_that_of_a_line_through_the_logarithms(points):
    """Source: scipy.stats.linregress, an independent implementation."""
    line = stats.linregress([log(q) for q, _ in points], [log(p) for _, p in points])
    law = law_of(pairs(*points))
    assert law.exponent.value == approx(line.slope) and law.exponent.dof == len(points) - 2
    assert law.exponent.std_uncertainty == approx(line.stderr)
    found = law.at(25 * LITRE)
    assert found.value / CM == approx(exp(line.intercept + line.slope * log(25)))
    x, y = (np.log([point[place] for point in points]) for place in (0, 1))
    scatter = np.sqrt(np.sum((y - line.intercept - line.slope * x) ** 2) / (len(x) - 2))
    at_25 = scatter * np.sqrt(1 / len(x) + (log(25) - x.mean()) ** 2 / np.sum((x - x.mean()) ** 2))
    assert found.std_uncertainty == approx(at_25 * found.value) and found.dof == len(points) - 2


@pytest.mark.parametrize(
    ("diameter", "low", "high", "regime", "to_60"),
    [(0.022, 3, 8, 1.0, False), (0.006, 30, 45, 1.75, True), (0.010, 45, 55, 1.75, True)],
)
def test_a_smooth_hose_follows_the_power_law_of_its_regime(diameter, low, high, regime, to_60):
    """Air at 20 °C through 1 m of smooth hose. Sources: fluids 1.3.1 (friction factor), CoolProp 8.0.0 (air).

    Laminar: n = 1. Turbulent: between 1 and 2, near the 1.75 of Blasius, and the law of two flows reaches 60 L/min.
    """
    density, viscosity = (PropsSI(key, "T", 293.15, "P", 101_325, "Air") for key in ("D", "V"))

    def needs(litres):
        speed = litres * LITRE / (np.pi / 4 * diameter**2)
        factor = fluids.friction_factor(Re=density * speed * diameter / viscosity, eD=0)
        return factor / diameter * density * speed**2 / 2

    read = pairs(*((q, needs(q) / CM) for q in (low, high)))
    law = law_of(read)
    assert law.is_possible() and law.exponent.value == approx(regime, abs=0.05)
    if to_60:
        assert pressure_at(read, 60 * LITRE, beyond=True).estimate.value == approx(needs(60), rel=0.01)


def test_an_orifice_has_the_exponent_2():
    """Source: fluids 1.3.1, flow through an orifice of 6 mm in 22 mm, discharge coefficient 0.6 (computed)."""
    found = [
        (fluids.flow_meter.flow_meter_discharge(0.022, 0.006, 101_325 + p, 101_325, 1.2, 0.6, 1.0) / 1.2, p)
        for p in (20.0, 200.0)
    ]
    law = law_of([(Measured(q), Measured(p)) for q, p in found])
    assert law.exponent.value == approx(2, abs=1e-6)


# Sources: ISO 8835-2: 0.1-0.3 kPa at 30 L/min, at most 50 mL/min at 3 kPa, 0.6 kPa at 60 L/min;
# ASTM F1208: 0.5-3 cmH2O at 3 L/min, 1-5 cmH2O at 30 L/min. All from memory.
LIMITS = [
    ("apl-valve", "pressure_30", "iso8835-apl", (0.1, 0.3), "kPa"),
    ("apl-valve", "pressure_30", "f1208-apl", (1, 5), "cmH2O"),
    ("apl-valve", "pressure_3", "f1208-apl", (0.5, 3), "cmH2O"),
    ("apl-valve", "closed_leak", "iso8835-apl-leak", (None, 50), "mL/min"),
    *(("one-way-valves", f"{side}_{key}", "iso8835-resistance", (None, 0.6), "kPa")
      for side in SIDES for key in ("resistance", "forward_pressure")),
]  # fmt: skip


@pytest.mark.parametrize(("code", "key", "rule", "ends", "unit"), LIMITS)
def test_the_limits_are_those_of_the_standards_and_say_that_they_are_from_memory(code, key, rule, ends, unit):
    found = choose_limit(TESTS[code].default_limits, key, rule=rule)
    shown_ends = [None if end is None else from_si(end, unit) for end in (found.lower_si, found.upper_si)]
    assert shown_ends == [None if end is None else approx(end) for end in ends]
    assert found.basis == FROM_MEMORY


@pytest.mark.parametrize("side", SIDES)
def test_what_no_source_gives_says_so(side):
    for key in ("reverse_leak", "reverse_share"):
        assert choose_limit(TESTS["one-way-valves"].default_limits, f"{side}_{key}").basis == COMMON_PRACTICE


@pytest.mark.parametrize(
    ("at_3", "at_30", "decisions"),
    [(0.51, 1.1, ("pass", "pass")), (0.49, 1.1, ("fail", "pass")), (3.01, 3.05, ("fail", "pass")),
     (1, 1.0, ("pass", "fail")), (1, 3.07, ("pass", "fail"))],
)  # fmt: skip
def test_an_open_valve_is_judged_at_both_ends_of_its_bands(at_3, at_30, decisions):
    """ISO 8835-2 at 30 L/min: 0.1 to 0.3 kPa is 1.02 to 3.06 cmH2O; ASTM F1208 at 3 L/min: 0.5 to 3 cmH2O."""
    found = evaluate("apl-valve", apl(((3, at_3), (30, at_30))))
    assert tuple(found.result(key).decision for key in ("pressure_3", "pressure_30")) == decisions


# --- each fault ---


def test_a_disc_that_does_not_close_passes_as_much_backwards_as_forwards():
    """A missing disc: 20 L/min at 1 cmH2O both ways is 100 % of the forward flow; forwards nothing shows."""
    found = evaluate("one-way-valves", one_way(((20, 1), (60, 4)), reverse=(20_000, 1)))
    for side in SIDES:
        share = found.result(f"{side}_reverse_share")
        assert from_si(share.value_si, "%") == approx(100) and share.decision is Decision.FAIL
        assert "stuck open or missing" in share.remark
        assert found.result(f"{side}_reverse_leak").decision is Decision.FAIL
        assert found.result(f"{side}_resistance").decision is Decision.PASS


def test_a_disc_that_leaks_is_not_called_stuck_open():
    found = evaluate("one-way-valves", one_way(((60, 4),), reverse=(500, 40)))
    assert found.result("inspiratory_reverse_leak").decision is Decision.FAIL
    share = found.result("inspiratory_reverse_share")
    assert share.decision is Decision.PASS and share.remark == ""


def test_a_disc_that_is_stuck_shut_fails_though_no_flow_gives_a_resistance():
    found = evaluate("one-way-valves", one_way(((0, 20),)))
    forward = found.result("inspiratory_forward_pressure")
    assert forward.decision is Decision.FAIL and "stuck shut" in forward.remark
    assert found.result("inspiratory_resistance").decision is Decision.NOT_TESTED


def test_more_than_the_whole_resistance_at_a_small_flow_fails():
    found = evaluate("one-way-valves", one_way(((5, 4), (20, 9))))
    assert found.result("expiratory_forward_pressure").decision is Decision.FAIL


def test_a_bag_that_does_not_hold_fails_its_valve_alone():
    given_sheet = one_way(reverse=None)
    leaking = {**given_sheet.values, "expiratory_holds": flow(0, "yes/no")}
    found = evaluate("one-way-valves", sheet(leaking, given_sheet.tables, reverse="bag"))
    assert found.result("expiratory_holds").decision is Decision.FAIL
    assert found.result("inspiratory_holds").decision is Decision.PASS


@pytest.mark.parametrize(("exponent", "words"), [(0.5, "below 1"), (0.9, "below 1"), (2.2, "above 2"), (4, "above 2")])
def test_an_exponent_outside_1_to_2_is_said_and_only_what_was_read_is_judged(exponent, words):
    between = evaluate("apl-valve", apl(power(exponent, 3, 10, 40)))
    result = between.result("pressure_30")
    assert (result.decision, result.reason) == (Decision.NOT_DECIDED, Reason.CONTRADICTED)
    assert words in result.why and any(words in remark for remark in between.remarks)
    read = evaluate("apl-valve", apl(power(exponent, 3, 10, 30, 40)))
    assert read.result("pressure_30").decision is Decision.PASS and any(words in one for one in read.remarks)


@pytest.mark.parametrize("exponent", [1, 1.4, 2])
def test_an_exponent_from_1_to_2_is_no_contradiction(exponent):
    found = evaluate("apl-valve", apl(power(exponent, 3, 10, 40)))
    assert found.result("pressure_30").decision is Decision.PASS
    assert any(f"is {exponent:.2f} ±" in remark for remark in found.remarks)


@pytest.mark.parametrize(
    ("code", "given_sheet", "key", "words"),
    [
        ("apl-valve", apl(((3, 1), (30, -2))), "open[2].pressure", "towards the higher pressure"),
        ("apl-valve", apl(held=0.0), "leak_pressure", "holds nothing"),
        ("apl-valve", apl(held=-3.0), "leak_pressure", "above zero"),
        ("one-way-valves", one_way(((60, -1),)), "inspiratory_forward[1].pressure", "higher pressure"),
        ("one-way-valves", one_way(reverse=(1, -40)), "inspiratory_reverse_pressure", "above zero"),
    ],
)
def test_what_cannot_be_is_refused_with_what_to_do(code, given_sheet, key, words):
    with pytest.raises(BenchError, match=words) as caught:
        evaluate(code, given_sheet)
    assert caught.value.key == key


def test_a_manometer_with_coarse_steps_decides_nothing_at_the_low_end():
    """A gauge of the machine in steps of 1 cmH2O, ± 2 cmH2O: U 2 is above half of the 2.04 cmH2O of the band."""
    meter = gauge("M", top_psi=2, step_psi=from_si(CM, "psi"), of_span=to_si(2, "cmH2O") / to_si(2, "psi"))
    opened = rows({"flow": flow, "pressure": lambda p: pressure(p, "cmH2O", "M")}, (3, 1), (30, 2))
    found = evaluate("apl-valve", sheet({}, {"open": opened}), context(meter))
    assert found.result("pressure_30").reason == Reason.TOO_COARSE


def test_half_a_leak_reading_and_one_flow_are_named_as_missing():
    alone = sheet({"leak_flow": flow(5, "mL/min")}, {"open": rows({"flow": flow, "pressure": cm}, (10, 1), (10, 1))})
    missing = evaluate("apl-valve", alone).missing
    assert any("both the flow and the pressure" in one for one in missing)
    assert any("reading at 30 L/min" in one for one in missing)
    reverse = sheet({"inspiratory_reverse_flow": flow(5, "mL/min")}, one_way().tables)
    assert "Inspiratory valve: both the reverse flow and the reverse pressure" in (
        evaluate("one-way-valves", reverse).missing
    )


# --- for any readings ---

EXPONENTS = st.floats(1.02, 1.98)
UNITS = st.tuples(st.sampled_from(["L/min", "mL/min"]), st.sampled_from(["kPa", "cmH2O", "mbar", "psi", "mmHg"]))


@given(exponent=EXPONENTS, units=UNITS, at_30=st.floats(1, 4))
def test_the_unit_of_entry_does_not_matter(exponent, units, at_30):
    q_unit, p_unit = units
    points = power(exponent, 2, 12, 45, at_30=at_30)

    def read(of_flow, of_pressure):
        table = rows({"flow": of_flow, "pressure": of_pressure}, *points)
        return evaluate("one-way-valves", sheet({}, {"inspiratory_forward": table, "expiratory_forward": table}))

    plain = read(flow, cm)
    other = read(
        lambda q: flow(from_si(q * LITRE, q_unit), q_unit), lambda p: pressure(from_si(p * CM, p_unit), p_unit)
    )
    for one, same in zip(plain.results, other.results, strict=True):
        assert (one.key, one.decision) == (same.key, same.decision)
        if one.is_measured:
            assert same.value_si == approx(one.value_si, rel=1e-9)


@given(low=figures(0.1, 2), more=figures(0.01, 5), at=figures(5, 14))
def test_a_pressure_between_two_flows_lies_between_their_pressures(low, more, at):
    found = pressure_at(pairs((at, low), (60, low + more)), 30 * LITRE, beyond=False).estimate.value / CM
    assert low <= found <= low + more


def test_a_valve_that_let_no_gas_through_is_not_tested_forwards():
    for side in ("inspiratory", "expiratory"):
        result = evaluate("one-way-valves", one_way(forward=((0, 6),))).result(f"{side}_forward_pressure")
        assert result.decision is Decision.NOT_TESTED and "No gas passed the valve forwards" in result.why


def test_a_pressure_between_two_flows_is_that_of_the_readings_beside_it_though_one_of_them_fell_back():
    """By hand: 4.5 cmH2O at 50 and 4.4 at 70 L/min leave about 4.45 at 60, whatever was read at 20 and 30."""
    read = pairs((20, 1), (30, 2), (50, 4.5), (70, 4.4))
    assert 4.4 <= pressure_at(read, 60 * LITRE, beyond=False).estimate.value / CM <= 4.5


@given(figures(1, 56.9), figures(0.1, 5))
def test_a_resistance_from_one_flow_lies_between_in_proportion_and_by_the_square(q, p):
    assume(q < 57)
    found = pressure_at(pairs((q, p)), 60 * LITRE, beyond=True).estimate
    lowest, highest = p * 60 / q, p * (60 / q) ** 2
    assert lowest <= found.value / CM <= highest
    assert found.expanded() / CM >= 0.45 * (highest - lowest) * 0.9


@given(figures(5, 50), figures(0.5, 5), figures(1.01, 3))
def test_more_pressure_at_the_same_flow_is_more_resistance(q, p, more):
    one, other = (pressure_at(pairs((q, x)), 60 * LITRE, beyond=True).estimate.value for x in (p, p * more))
    assert other == approx(more * one)


@given(backwards=st.floats(1, 5000), more=st.floats(1.1, 5), p=st.floats(36, 60))
def test_a_larger_reverse_flow_is_a_larger_leak_and_share(backwards, more, p):
    less, larger = (evaluate("one-way-valves", one_way(reverse=(q, p))) for q in (backwards, backwards * more))
    for key in ("inspiratory_reverse_leak", "inspiratory_reverse_share"):
        assert larger.result(key).value_si == approx(more * less.result(key).value_si)


@given(exponent=EXPONENTS, reverse=st.floats(1, 5000))
def test_both_valves_are_judged_alike(exponent, reverse):
    found = evaluate("one-way-valves", one_way(power(exponent, 10, 30), reverse=(reverse, 40)))
    for one in found.results:
        if one.key.startswith("inspiratory"):
            twin = found.result(one.key.replace("inspiratory", "expiratory"))
            assert (twin.value_si, twin.std_uncertainty_si, twin.decision) == (
                one.value_si, one.std_uncertainty_si, one.decision,
            )  # fmt: skip


@given(exponent=st.floats(0.2, 2.5), seed=st.integers(0, 10_000))
def test_the_order_of_rows_does_not_matter(exponent, seed):
    points = list(power(exponent, 3, 8, 20, 45))
    straight = evaluate("apl-valve", apl(points))
    random.Random(seed).shuffle(points)
    shuffled = evaluate("apl-valve", apl(points))
    assert (shuffled.results, shuffled.curves) == (straight.results, straight.curves)


@given(exponent=st.floats(0, 0.9) | st.floats(2.1, 4), share=st.floats(1.2, 3))
def test_an_impossible_exponent_never_passes_a_flow_that_was_not_read(exponent, share):
    points = power(exponent, 50 / share / 2, 50 / share, at_30=0.5)
    result = evaluate("one-way-valves", one_way(points)).result("inspiratory_resistance")
    assert result.decision not in CREDIT


# --- Monte Carlo, JCGM 101, 100,000 draws ---

DRAWS = 100_000


@pytest.mark.parametrize(("litres", "low"), [(30, 1.0), (15, 1.0), (57, 0.0), (63, 0.0), (90, 1.0)])
def test_what_an_exponent_leaves_open_is_that_of_a_simulation(litres, low):
    """u within 2 %, and U covers 94 to 97 % of a distribution that lies more to one side."""
    draw = np.random.default_rng(4)
    (read,) = pairs((litres, 2.0), flow_part=0.02, pressure_part=0.03)
    found = brought_to_flow(read, 60 * LITRE, low)
    flows = litres * (1 + 0.02 * draw.standard_normal(DRAWS))
    held = 2.0 * (1 + 0.03 * draw.standard_normal(DRAWS))
    true = held * (60 / flows) ** draw.uniform(low, 2, DRAWS) * CM
    assert np.sqrt(np.mean((true - found.value) ** 2)) == approx(found.std_uncertainty, rel=0.02)
    assert 0.94 <= np.mean(abs(true - found.value) <= found.expanded()) <= 0.97


@pytest.mark.parametrize("exponent", [1.1, 1.6, 2.0])
def test_exponent_and_pressure_of_a_fitted_law_are_those_of_a_simulation(exponent):
    """Source of the fit of each draw: numpy.polyfit through the logarithms; one flowmeter errs alike at all flows."""
    draw, points = np.random.default_rng(5), power(exponent, 5, 12, 28, 50)
    law = law_of(pairs(*points, flow_part=0.03, pressure_part=0.04))
    shown_q, shown_p = (np.array(one)[:, None] for one in zip(*points, strict=True))
    flows = shown_q * (1 + 0.03 * draw.standard_normal(DRAWS))
    held = shown_p * (1 + 0.04 * draw.standard_normal((4, DRAWS)))
    slopes, levels = np.polyfit(np.log(shown_q[:, 0]), np.log(held), 1)  # the flowmeter's factor moves the level alone
    levels = levels - slopes * np.log(flows[0] / shown_q[0])
    assert slopes.std() == approx(law.exponent.std_uncertainty, rel=0.02)
    assert np.exp(levels + slopes * log(40)).std() * CM == approx(law.at(40 * LITRE).std_uncertainty, rel=0.02)


def test_the_share_of_reverse_flow_is_that_of_a_simulation():
    """20 L/min at 1 cmH2O forwards, 300 mL/min at 40 cmH2O backwards; the exponent is anything from 1 to 2."""
    draw = np.random.default_rng(6)
    result = evaluate("one-way-valves", one_way(((20, 1),), reverse=(300, 40))).result("inspiratory_reverse_share")
    true = 0.3 / (20 * 40 ** (1 / draw.uniform(1, 2, DRAWS)))
    assert np.sqrt(np.mean((true - result.value_si) ** 2)) == approx(result.std_uncertainty_si, rel=0.03)
    assert shown(evaluate("one-way-valves", one_way(((20, 1),), reverse=(300, 40))), "inspiratory_reverse_share") == (
        approx(100 * 0.3 / (20 * 40 ** (1 / 1.5)))
    )
