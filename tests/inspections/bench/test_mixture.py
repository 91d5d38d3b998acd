import random

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from inspections.bench import TESTS, BenchError, Decision, choose_limit, from_si, interval_from_si
from inspections.bench.mixture_flows import computed_fraction
from tests.inspections.bench.making import context, evaluate, flow, flowmeter, rows, sheet, shown

COLUMNS = {
    "oxygen_set": flow, "other_set": flow, "other_flow": flow,
    "oxygen_flow": flow, "oxygen_fraction": lambda value: flow(value, "%"),
}  # fmt: skip


def mixture(*grid, off=0, moves=None, **choices):
    values = {} if off is None else {"oxygen_off_flow": flow(off, "mL/min")}
    if moves is not None:
        values["control_moves"] = flow(moves, "yes/no")
    filled = [(*row, *(None,) * (5 - len(row))) for row in grid]
    return sheet(values, {"grid": rows(COLUMNS, *filled)}, **choices)


def test_three_to_one_is_exactly_25_percent():  # Source: ASA Monitor 79(10):42
    evaluation = evaluate("oxygen-mixture", mixture((1, 4, 3)))
    assert shown(evaluation, "lowest_fraction") == approx(25)
    analysed = evaluate("oxygen-mixture", mixture((1, 4, 3, None, 25)))
    assert analysed.result("lowest_fraction").decision == Decision.PASS


def test_a_machine_without_ratio_protection_reaches_zero():  # trade value
    evaluation = evaluate("oxygen-mixture", mixture((0, 3, 3), (1, 3, 3), off=None))
    assert shown(evaluation, "lowest_fraction") == 0
    assert evaluation.result("lowest_fraction").decision == Decision.FAIL
    assert shown(evaluation, "oxygen_off_flow") == approx(3.0)
    assert evaluation.result("oxygen_off_flow").decision == Decision.FAIL
    assert evaluation.result("ratio_protection").value_si == 0
    assert evaluation.result("ratio_protection").remark.startswith("no ratio protection")


# Sources: ASA Monitor 2015; 79(10): 42 (25 %), common practice (21 %), ASTM F1850-00 from memory (19 %)
@pytest.mark.parametrize(
    ("percent", "by_25", "by_21", "by_19"),
    [(25.0, "pass", "pass", "pass"), (20.0, "fail", "fail", "pass"), (18.9, "fail", "fail", "fail")],
)
def test_the_floor_depends_on_the_rule(percent, by_25, by_21, by_19):
    limits = TESTS["oxygen-mixture"].default_limits
    for rule, decision in (("nominal-25", by_25), ("floor-21", by_21), ("astm-f1850-19", by_19)):
        named = {"lowest_fraction": choose_limit(limits, "lowest_fraction", rule=rule)}
        evaluation = evaluate(
            "oxygen-mixture", mixture((1, 4, 100 / percent - 1, None, percent)), context(limits=named)
        )
        assert evaluation.result("lowest_fraction").decision == decision


@pytest.mark.parametrize(
    ("row", "moves", "acts", "kind"),
    [
        ((1, 9, 9, 3), None, 1, "linked controls: the oxygen flow rose"),
        ((1, 9, 3), 1, 1, "linked controls: the oxygen control turned"),
        ((1, 9, 3), 0, 1, "flow limiting"),
        ((1, 9, 9), None, 0, "no ratio protection"),
    ],
)
def test_what_the_protection_does_is_told_apart(row, moves, acts, kind):
    result = evaluate("oxygen-mixture", mixture(row, moves=moves)).result("ratio_protection")
    assert result.value_si == acts
    assert result.remark.startswith(kind)


def test_what_did_not_ask_for_too_little_oxygen_says_what_it_asked_for():
    """By hand: 1 of 1 + 2 is 33 %; oxygen alone asks for nothing of another gas."""
    for grid, words in ((((2, 2, 2), (1, 2, 2)), "the least oxygen asked for was 33%"), (((2, 0, 0),), "no other gas")):
        assert words in evaluate("oxygen-mixture", mixture(*grid)).result("lowest_fraction").why


def test_oxygen_that_was_only_set_is_as_uncertain_as_the_tube_of_the_machine():
    """By hand: o = 1, n = 3: df/do = n/16; the tube of 1 L/min is taken as +/- 0.11, u 0.055: 1.03 % oxygen."""
    exact = flowmeter("F", of_reading=1e-6, step=1e-6)
    row = {"oxygen_set": flow(1), "other_set": flow(3), "other_flow": flow(3, instrument="F")}
    given_sheet = sheet({"oxygen_off_flow": flow(0)}, {"grid": (row,)})
    still = context(exact, ambient_std_pa=0, temperature_std_k=0)
    result = evaluate("oxygen-mixture", given_sheet, still, unnamed=True).result("lowest_fraction")
    assert result.std_uncertainty_si == approx(3 * 0.055 / 16, rel=0.02)


def test_settings_that_ask_for_enough_oxygen_test_no_protection():
    evaluation = evaluate("oxygen-mixture", mixture((2, 2, 2)))
    assert evaluation.result("ratio_protection").value_si is None
    assert evaluation.result("ratio_protection").decision == Decision.NOT_TESTED
    assert any("was not tested" in remark for remark in evaluation.remarks)


def test_air_brings_its_own_oxygen():
    """By hand: (1 + 0.21 x 3) / 4 = 40.75 %."""
    assert shown(evaluate("oxygen-mixture", mixture((1, 3, 3), other_gas="air")), "lowest_fraction") == approx(40.75)


def test_an_analyser_wins_over_the_flows_and_contradiction_is_told():
    evaluation = evaluate("oxygen-mixture", mixture((1, 3, 3, None, 35)))
    assert shown(evaluation, "lowest_fraction") == approx(35)
    assert any("the analyser shows 35.0%, but the flows give 25.0%" in remark for remark in evaluation.remarks)


def test_uncertainty_of_flows_is_carried_to_the_fraction():
    """By hand: f = o/(o + n), o = 1, n = 3, two flowmeters of 4 % at k = 2 (u 2 %), no resolution:

    df/do = n/16, df/dn = -o/16, so u = sqrt((3 x 0.02)^2 + (1 x 0.06)^2) / 16 = 0.5303 %. One meter errs in each gas
    by itself, so it is the same. At 101.325 kPa and 20 degrees, both exact, density adds nothing.
    """
    grid = (
        {
            "oxygen_set": flow(1), "other_set": flow(3), "oxygen_flow": flow(1, instrument="F1"),
            "other_flow": flow(3, instrument="F2"),
        },
    )  # fmt: skip
    two = context(
        *(flowmeter(code, step=0, of_reading=0.04) for code in ("F1", "F2")), ambient_std_pa=0, temperature_std_k=0
    )
    given_sheet = sheet({"oxygen_off_flow": flow(0)}, {"grid": grid})
    apart = evaluate("oxygen-mixture", given_sheet, two).result("lowest_fraction")
    assert interval_from_si(apart.std_uncertainty_si, "%") == approx(0.5303, rel=1e-3)
    one_meter = ({**grid[0], "other_flow": flow(3, instrument="F1")},)
    together = evaluate("oxygen-mixture", sheet({"oxygen_off_flow": flow(0)}, {"grid": one_meter}), two)
    assert together.result("lowest_fraction").std_uncertainty_si == approx(apart.std_uncertainty_si)


def test_no_flow_at_all_has_no_fraction():
    evaluation = evaluate("oxygen-mixture", mixture((0, 0, 0), (1, 3, 3)))
    assert shown(evaluation, "lowest_fraction") == approx(25)
    assert any("Row 1: no gas flows" in remark for remark in evaluation.remarks)


def test_the_largest_flow_with_oxygen_off_counts():
    evaluation = evaluate("oxygen-mixture", mixture((0, 3, 0.05), (0, 6, 0.2), (1, 3, 3), off=20))
    assert shown(evaluation, "oxygen_off_flow") == approx(200)


def test_oxygen_off_must_be_tried():
    assert (
        "Flow of the other gas with oxygen turned off"
        in evaluate("oxygen-mixture", mixture((1, 3, 3), off=None)).missing
    )


@pytest.mark.parametrize(("row", "words"), [((1, 3, 3, None, 101), "above 100 %"), ((1, 3, -0.1), "below zero")])
def test_readings_that_cannot_be_are_refused(row, words):
    with pytest.raises(BenchError, match=words):
        evaluate("oxygen-mixture", mixture(row))


flows = st.floats(0, 20).map(lambda flow: round(flow, 9))  # no gauge shows less
grids = st.lists(st.tuples(flows, flows, flows, st.none() | flows), min_size=1, max_size=8)


@given(grid=grids, other_gas=st.sampled_from(["nitrous oxide", "air", "other"]), seed=st.integers(0, 99))
def test_the_fraction_stays_within_0_and_1_whatever_the_order(grid, other_gas, seed):
    first = evaluate("oxygen-mixture", mixture(*grid, other_gas=other_gas)).result("lowest_fraction")
    random.Random(seed).shuffle(grid)
    second = evaluate("oxygen-mixture", mixture(*grid, other_gas=other_gas)).result("lowest_fraction")
    assert (first is None) == (second is None)
    if first is not None and first.value_si is not None:
        assert 0 <= first.value_si <= 1
        assert first.value_si == second.value_si


@given(oxygen=st.floats(1e-3, 20), other=flows, scale=st.floats(0.01, 100))
def test_scaling_both_flows_keeps_the_fraction(oxygen, other, scale):
    plain = computed_fraction(oxygen, other, 0)
    assert computed_fraction(oxygen * scale, other * scale, 0) == approx(plain)
    in_ml = evaluate(
        "oxygen-mixture",
        sheet({"oxygen_off_flow": flow(0)}, {"grid": rows(
            {key: lambda value: flow(value * 1000, "mL/min") for key in ("oxygen_set", "other_set", "other_flow")},
            (oxygen, other, other))}),
    )  # fmt: skip
    assert from_si(in_ml.result("lowest_fraction").value_si, "%") == approx(100 * plain)
