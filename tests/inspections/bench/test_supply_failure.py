from math import sqrt

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from inspections.bench import BenchError, Decision, Limit, from_si, get_test, interval_from_si, to_si
from inspections.bench.measuring import Bench, Measured
from inspections.bench.sweeps import find_crossing, tell_shape
from tests.inspections.bench.making import context, evaluate, flow, flowmeter, gauge, pressure, rows, sheet, shown

COLUMNS = {"pressure": pressure, "flow": flow}
FALLING = ((40, 5.0), (30, 5.0), (26, 4.0), (24, 1.0), (20, 0.0))
RISING = ((20, 0.0), (25, 0.0), (27, 4.0), (30, 5.0))


def sweep(falling=FALLING, rising=(), full=50, set_flow=5, more=None, columns=COLUMNS, **choices):
    tables = {"falling": rows(columns, *falling), "rising": rows(columns, *rising)}
    start = {"full_pressure": columns["pressure"](full), "set_flow": columns["flow"](set_flow)}
    return sheet({**start, **(more or {})}, tables, **choices)


def test_trip_pressure_is_interpolated_to_half_the_set_flow():
    """By hand: 4 L/min at 26 psi, 1 at 24: 2.5 L/min lies half way, at 25 psi."""
    assert shown(evaluate("supply-failure", sweep()), "trip_pressure") == approx(25)


def test_another_share_of_the_flow_can_be_stated():
    """By hand: 20 % of 5 L/min is 1 L/min, read at 24 psi exactly."""
    given_share = sweep(more={"trip_fraction": flow(20, "%")})
    assert shown(evaluate("supply-failure", given_share), "trip_pressure") == approx(24)
    with pytest.raises(BenchError, match="5 to 95 %"):
        evaluate("supply-failure", sweep(more={"trip_fraction": flow(100, "%")}))


def test_the_bracket_is_a_rectangle_about_the_trip():
    """By hand: bracket 24 to 26 psi, value in its middle: u = 1 psi / sqrt(3). JCGM 100:2008, 4.3.7."""
    trip = evaluate("supply-failure", sweep()).result("trip_pressure")
    assert trip.std_uncertainty_si == approx(to_si(1, "psi") / sqrt(3))
    assert trip.coverage_factor == approx(0.9545 * sqrt(3), abs=1e-4)  # of a rectangle: 95.45 % of its width


def test_the_gauge_adds_to_the_bracket():
    """By hand: gauge +/-0.25 % of 100 psi at k = 2 is 0.125 psi, one error for both ends of the bracket; resolution

    0.1 psi is 0.0289 psi each, 0.0204 psi in the middle of two. With 0.5774 psi of bracket: 0.5911 psi.
    """
    columns = {"pressure": lambda value: pressure(value, instrument="G"), "flow": flow}
    trip = evaluate("supply-failure", sweep(columns=columns), context(gauge())).result("trip_pressure")
    assert interval_from_si(trip.std_uncertainty_si, "psi") == approx(0.5911, abs=5e-5)


def test_reset_and_hysteresis_come_from_the_rising_sweep():
    """By hand: 0 at 25 psi, 4 L/min at 27: 2.5 L/min at 26.25 psi; less the trip at 25 psi is 1.25 psi."""
    evaluation = evaluate("supply-failure", sweep(rising=RISING))
    assert shown(evaluation, "reset_pressure") == approx(26.25)
    assert shown(evaluation, "hysteresis") == approx(1.25)


def test_the_gauge_error_cancels_in_the_hysteresis():
    columns = {"pressure": lambda value: pressure(value, instrument="G"), "flow": flow}
    given_sweep = sweep(rising=RISING, columns=columns)
    poor = evaluate("supply-failure", given_sweep, context(gauge(of_span=0.05)))
    bare = evaluate("supply-failure", sweep(rising=RISING))
    rise = poor.result("hysteresis").std_uncertainty_si / bare.result("hysteresis").std_uncertainty_si
    assert rise < 1.01
    assert poor.result("trip_pressure").std_uncertainty_si > 3 * bare.result("trip_pressure").std_uncertainty_si


# Common practice: other gases flow from 25 psi on, cut below; 20 psi ASA Monitor 2015; 79(9): 52; 30 psi from memory
@pytest.mark.parametrize(
    ("shift", "decision"),
    [(0, "pass"), (4, "pass"), (4.5, "conditional pass"), (5.5, "conditional fail"), (10, "fail"), (-10, "fail")],
)
def test_trip_is_judged_between_20_and_30_psi(shift, decision):
    """Bracket 24 to 26 psi; moved by 4 psi it lies within the limits as a whole, by 4.5 psi in part."""
    moved = [(p + shift, q) for p, q in FALLING]
    result = evaluate("supply-failure", sweep(moved, full=60)).result("trip_pressure")
    assert result.decision == decision
    assert result.limit.rule == "trip-25"


def test_residual_flow_is_read_at_the_lowest_pressure():
    evaluation = evaluate("supply-failure", sweep([*FALLING[:-1], (20, 0.3)]))
    assert shown(evaluation, "residual_flow") == approx(0.3)  # L/min, as read
    assert evaluation.result("residual_flow").decision == Decision.FAIL


def test_a_valve_that_never_trips_fails_once_the_sweep_is_below_the_limit():
    evaluation = evaluate("supply-failure", sweep([(40, 5), (30, 5), (20, 4.9)]))
    trip = evaluation.result("trip_pressure")
    assert trip.decision == Decision.FAIL
    assert "not cut off down to 20 psi" in trip.remark
    assert evaluation.missing == ()


def test_a_sweep_that_ends_too_early_asks_for_more():
    evaluation = evaluate("supply-failure", sweep([(40, 5), (30, 5), (25, 4.9)]))
    assert evaluation.result("trip_pressure") is None
    assert "continue the falling sweep" in evaluation.missing[0]


def test_a_flow_that_wavers_about_half_widens_the_bracket():
    """By hand: below half at 28, above at 26, below at 24: bracket 24 to 30, middle 27, u = 3/sqrt(3) psi."""
    evaluation = evaluate("supply-failure", sweep([(40, 5), (30, 5), (28, 2), (26, 3), (24, 0)]))
    assert shown(evaluation, "trip_pressure") == approx(27)
    assert interval_from_si(evaluation.result("trip_pressure").std_uncertainty_si, "psi") == approx(sqrt(3))
    assert "more than once" in evaluation.result("trip_pressure").remark


def test_a_snap_at_one_pressure_has_no_bracket_left():
    trip = evaluate("supply-failure", sweep([(25, 5), (25, 0), (20, 0)])).result("trip_pressure")
    assert (from_si(trip.value_si, "psi"), trip.std_uncertainty_si) == (approx(25), 0)


@pytest.mark.parametrize(
    ("falling", "rising", "key"),
    [
        ([(40, 5), (30, 5), (32, 5), (20, 0)], (), "falling[3].pressure"),
        ([(55, 5), (20, 0)], (), "falling[1].pressure"),
        (FALLING, [(20, 0), (30, 5), (29, 5)], "rising[3].pressure"),
    ],
)
def test_rows_out_of_order_are_refused(falling, rising, key):
    with pytest.raises(BenchError) as caught:
        evaluate("supply-failure", sweep(falling, rising))
    assert caught.value.key == key


def test_rising_sweep_says_what_it_lacks():
    early = evaluate("supply-failure", sweep(rising=[(26, 3), (30, 5)]))
    assert "start it below the reset pressure" in early.missing[0]
    short = evaluate("supply-failure", sweep(rising=[(20, 0), (26, 0)]))
    assert "continue until" in short.missing[0]
    stuck = evaluate("supply-failure", sweep(rising=[(20, 0), (50, 0)]))
    reset = stuck.result("reset_pressure")
    assert (reset.decision, shown(stuck, "reset_pressure")) == (Decision.FAIL, approx(50))
    assert "sticks" in reset.remark


def test_half_filled_rows_are_named_and_the_rest_is_used():
    evaluation = evaluate("supply-failure", sweep([*FALLING, (15, None)]))
    assert "Falling sweep, row 6: flow of the other gas" in evaluation.missing
    assert shown(evaluation, "trip_pressure") == approx(25)


PROPORTIONAL = ((40, 3.8), (30, 2.4), (20, 1.0), (14, 0.15), (12, 0.0))


def test_a_proportional_kind_has_no_threshold_but_a_zero_and_a_deviation():
    """By hand: flow is choked at 40 psi, so it follows the absolute pressure: 54.696 of 64.696 psi is 84.54 %, and 3.8

    of 5 L/min is 76 %: excess -8.54 %; flow 2 % of 5 = 0.1 L/min lies a third of the way from 14 psi (0.15) to 12 psi
    (0): 13.33 psi.
    """
    evaluation = evaluate("supply-failure", sweep(PROPORTIONAL, kind="proportional"))
    assert evaluation.result("trip_pressure") is None
    assert shown(evaluation, "proportion_deviation") == approx(-8.543, abs=5e-4)
    assert evaluation.result("proportion_deviation").decision == Decision.PASS
    assert shown(evaluation, "zero_pressure") == approx(40 / 3)
    assert [curve.key for curve in evaluation.curves] == ["sweep", "proportion"]


@pytest.mark.parametrize(("falling", "looks"), [(FALLING, "shut-off"), (PROPORTIONAL, "proportional")])
def test_the_curve_tells_its_kind_and_contradicts_a_wrong_choice(falling, looks):
    wrong = "proportional" if looks == "shut-off" else "shut-off"
    right, other = (evaluate("supply-failure", sweep(falling, kind=kind)) for kind in (looks, wrong))
    assert f"The curve looks like a {looks} device, as chosen." in right.remarks
    assert any(f"looks like a {looks} device, but {wrong} was chosen" in remark for remark in other.remarks)


def test_too_few_readings_do_not_tell_the_kind():
    assert tell_shape([1, 0.4, 0.1], [1, 0, 0]) is None


def test_alarm_limits_are_those_published():
    """Source: ASTM F1850-00 from memory (5 s); Anaesthesia 2012; 67: 660-68 (at least 7 s)."""

    def alarm(delay, lasts):
        seconds = {"alarm_delay": flow(delay, "s"), "alarm_duration": flow(lasts, "s")}
        evaluation = evaluate("supply-failure", sweep(more=seconds))
        return evaluation.result("alarm_delay").decision, evaluation.result("alarm_duration").decision

    assert alarm(5.0, 7.0) == ("pass", "pass")
    assert alarm(5.1, 6.9) == ("fail", "fail")


def test_an_alarm_after_the_cut_is_remarked():
    late = evaluate("supply-failure", sweep(more={"alarm_pressure": pressure(22)}))
    assert any("only after the other gas was cut off" in remark for remark in late.remarks)


def test_a_zero_set_flow_cannot_show_a_cut():
    with pytest.raises(BenchError, match="Set a flow above zero"):
        evaluate("supply-failure", sweep(set_flow=0))


def figures(highest):
    return st.floats(0, highest).map(lambda number: round(number, 9))  # no gauge shows less


falls = st.lists(st.tuples(figures(50), figures(5)), min_size=2, max_size=12).map(
    lambda found: sorted(found, key=lambda row: -row[0])
)


@given(falling=falls)
def test_the_trip_lies_inside_its_bracket(falling):
    sweep_of = [(Measured(50.0), Measured(5.0)), *((Measured(p), Measured(q)) for p, q in falling)]
    trip = find_crossing(sweep_of, 2.5)
    if falling[-1][1] >= 2.5:
        assert trip is None
        return
    flowing = [p for p, q in [(50, 5), *falling] if q >= 2.5]
    cut = [p for p, q in falling if q < 2.5]
    assert trip.low.value <= trip.value <= trip.high.value
    assert trip.low.value <= min(flowing) and trip.high.value >= max(cut)
    half_width = (trip.high.value - trip.low.value) / 2
    assert half_width / sqrt(3) * (1 - 1e-9) <= trip.bracket_std + 1e-9
    assert trip.bracket_std <= 2 * half_width / sqrt(3) + 1e-9


@given(falling=falls, unit=st.sampled_from(["kPa", "bar", "mmHg", "cmH2O"]))
def test_the_unit_of_entry_does_not_change_the_decision(falling, unit):
    converted = {
        "pressure": lambda value: pressure(from_si(to_si(value, "psi"), unit), unit),
        "flow": lambda value: flow(value * 1000, "mL/min"),
    }
    first, second = (evaluate("supply-failure", sweep(falling, columns=columns)) for columns in (COLUMNS, converted))
    if abs(min(q for _, q in falling) - 2.5) < 1e-6 or any(abs(q - 2.5) < 1e-6 for _, q in falling):
        return  # a flow on the threshold to within rounding may fall to either side
    assert [(o.key, o.decision) for o in first.results] == [(o.key, o.decision) for o in second.results]
    for one, other in zip(first.results, second.results, strict=True):
        assert other.value_si == (None if one.value_si is None else approx(one.value_si, rel=1e-9, abs=1e-9))


@given(scale=st.floats(0.1, 10))
def test_scaling_every_flow_keeps_the_trip(scale):
    scaled = sweep([(p, q * scale) for p, q in FALLING], set_flow=5 * scale)
    assert shown(evaluate("supply-failure", scaled), "trip_pressure") == approx(25)


@given(better=st.floats(1e-4, 0.02), worse=st.floats(1e-4, 0.02))
def test_a_worse_gauge_gives_more_uncertainty(better, worse):
    better, worse = sorted((better, worse))
    columns = {"pressure": lambda value: pressure(value, instrument="G"), "flow": flow}
    small, large = (
        evaluate("supply-failure", sweep(columns=columns), context(gauge(of_span=part), flowmeter()))
        for part in (better, worse)
    )
    expanded = [one.result("trip_pressure").expanded_uncertainty_si for one in (small, large)]
    assert expanded[0] <= expanded[1] * (1 + 1e-9)


STUCK = ((40, 5.0), (20, 5.0), (5, 5.0), (1, 5.0))


def test_a_proportional_device_that_never_stops_the_other_gas_fails_and_can_be_signed():
    evaluation = evaluate("supply-failure", sweep(STUCK, kind="proportional"))
    assert not evaluation.missing
    assert evaluation.result("residual_flow").decision == Decision.FAIL
    assert evaluation.result("proportion_deviation").decision == Decision.FAIL


def test_a_proportional_sweep_that_ends_early_asks_for_more():
    assert evaluate("supply-failure", sweep(STUCK[:2], kind="proportional")).missing


def test_a_device_that_does_not_trip_without_any_oxygen_fails_by_any_limit():
    upper_only = Limit("trip_pressure", "own", "At most 30 psi", None, to_si(30, "psi"), "psi", "invented", "", "local")
    evaluation = evaluate("supply-failure", sweep(STUCK), context(limits={"trip_pressure": upper_only}))
    assert not evaluation.missing
    assert evaluation.result("trip_pressure").decision == Decision.FAIL


def test_what_the_machine_shows_itself_needs_no_instrument_and_what_is_measured_does():
    needs = {spec.key: spec.needs_instrument for spec in get_test("supply-failure").readings}
    assert needs["full_pressure"] and needs["set_flow"] and not needs["trip_fraction"]
    assert not any(spec.needs_instrument for spec in get_test("oxygen-analyser").readings)


def test_each_reading_is_measured_once_however_many_challenges_look_at_it(monkeypatch):
    measured, measure = [], Bench._measure_anew

    def counted(bench, spec, reading, where, *more):
        measured.append(where)
        return measure(bench, spec, reading, where, *more)

    monkeypatch.setattr(Bench, "_measure_anew", counted)
    assert evaluate("supply-failure", sweep(rising=RISING)).results
    cells = [f"falling[{number}].{column}" for number in range(1, len(FALLING) + 1) for column in COLUMNS]
    assert set(measured) >= {*cells, "full_pressure", "set_flow"}
    assert len(measured) == len(set(measured))
