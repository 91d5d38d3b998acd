"""Every bench test, with readings and conditions within the bounds and beyond: finite results or a BenchError."""

from copy import deepcopy
from dataclasses import replace
from math import isfinite

import pytest
from hypothesis import HealthCheck, event, given, settings
from hypothesis import strategies as st

from fleet.catalogue.dimensions import DIMENSIONS, find_unit
from inspections.bench import TESTS, Accuracy, BenchError, Context, Instrument, Reading, Scale, Sheet, Zero, get_test
from inspections.bench.examples import EXAMPLES
from inspections.bench.guard import NotEvaluated, evaluate, refuse_limit
from inspections.bench.judging import judged_result
from inspections.bench.results import Evaluation
from inspections.bench.serialise import context_from_dict, evaluation_to_dict, sheet_from_dict
from inspections.bench.uncertainty import Estimate
from tests.inspections.bench.making import limit

WILD = st.sampled_from([1e308, -1e308, 5e-324, -5e-324, 1e-200, float("inf"), float("nan"), 0.0, -1.0])
CODES = ("I-1", "I-2")


def numbers(dimension, unit, *, wild):
    """Numbers of a unit from the finest step to the highest bound, in all orders of magnitude."""
    found, bounds = find_unit(unit)[1], DIMENSIONS[dimension].bounds
    low, high = ((end - found.zero) / found.factor for end in (bounds.low, bounds.high))
    usual = st.floats(0, min(100.0, high)).map(lambda number: round(number, 4))
    inside = usual | st.floats(max(low, 0), high).map(lambda number: float(f"{number:.4g}"))
    return inside | WILD if wild else inside


def readings(spec, wild):
    if spec.dimension.entry.is_answer:
        return st.builds(Reading, st.sampled_from([0.0, 1.0]), st.just(spec.units[0]))
    instruments = st.none() | st.sampled_from(CODES)
    zeros = st.sampled_from([None, Zero.GAUGE, Zero.ABSOLUTE]) if spec.zero else st.none()
    return st.sampled_from(spec.units).flatmap(
        lambda unit: st.builds(Reading, numbers(spec.dimension, unit, wild=wild), st.just(unit), zeros, instruments)
    )


def sheets(test, wild):
    def some(specs):
        return st.fixed_dictionaries({}, optional={spec.key: readings(spec, wild) for spec in specs})

    tables = {table.key: st.lists(some(table.columns), max_size=6).map(tuple) for table in test.tables}
    choices = {spec.key: st.sampled_from([value for value, _ in spec.options]) for spec in test.choices}
    return st.builds(
        Sheet,
        some(test.readings),
        st.fixed_dictionaries({}, optional=tables),
        st.fixed_dictionaries({}, optional=choices),
    )


@st.composite
def scales(draw, dimension):
    bounds = DIMENSIONS[dimension].bounds
    high = draw(st.floats(bounds.low + (bounds.high - bounds.low) * 0.6, bounds.high))
    low = draw(st.sampled_from([bounds.low, max(bounds.low, 0.0)]))
    span = high - low
    step = draw(st.floats(0, 1)) * span
    accuracy = Accuracy(
        draw(st.floats(0, 1)),
        draw(st.floats(0, 1)),
        draw(st.floats(0, 1)) * span,
        draw(st.sampled_from([0, 1, 2, 3.5])),
    )
    return Scale(dimension, low, high, max(step, bounds.finest), accuracy)


@st.composite
def contexts(draw, test, wild):
    specs = [*test.readings, *(column for table in test.tables for column in table.columns)]
    measured = sorted({spec.dimension for spec in specs if not spec.dimension.entry.is_answer})
    instruments = {code: Instrument(code, code, tuple(draw(scales(one)) for one in measured)) for code in CODES}
    ambient, kelvin = st.floats(45_000, 110_000), st.floats(278.15, 318.15)
    if wild:
        ambient, kelvin = ambient | WILD, kelvin | WILD
    return Context(draw(ambient), draw(kelvin), {}, instruments, {}, draw(st.none() | st.integers(1950, 2026)))


@pytest.mark.parametrize("code", TESTS)
@pytest.mark.parametrize("wild", [False, True], ids=["plausible", "wild"])
@settings(max_examples=25, deadline=None, suppress_health_check=list(HealthCheck))
@given(data=st.data())
def test_an_evaluation_is_finite_or_refused_in_words(code, wild, data):
    test = TESTS[code]
    sheet, context = data.draw(sheets(test, wild)), data.draw(contexts(test, wild))
    try:
        evaluation = evaluate(test, sheet, context)
    except BenchError as error:
        event(type(error).__name__)
        assert str(error).endswith(".") or "Accepted" in str(error) or "Known" in str(error)
        return
    found = evaluation_to_dict(evaluation)
    for result in found["outcomes"]:
        assert result["value"] is None or isfinite(result["value"])
        assert isfinite(result["expanded_uncertainty"])


@pytest.mark.parametrize("error", [OverflowError("x"), ZeroDivisionError("x"), ValueError("x"), RecursionError("x"),
                                   FloatingPointError("x")])  # fmt: skip
def test_an_error_of_arithmetic_becomes_a_sentence(error, monkeypatch):
    def fails(sheet, context):
        raise error

    with pytest.raises(NotEvaluated, match="cannot be evaluated together .*Check each value"):
        evaluate(_with(fails), Sheet(), Context())


def test_a_limit_of_a_result_that_a_test_lacks_is_refused_with_those_that_it_has():
    with pytest.raises(BenchError, match="has no result .leak.. It has: pressure, flowing_pressure, sag.") as refused:
        refuse_limit(get_test("pipeline-supply"), "leak", limit(1, None))
    assert refused.value.key == "limits.leak"


def test_results_that_are_not_finite_are_refused():
    spec = TESTS["oxygen-flush"].results[0]

    def endless(sheet, context):
        return Evaluation((judged_result(spec, Estimate(float("inf"), 1.0), None),))

    with pytest.raises(NotEvaluated, match="flush flow would not be a finite number"):
        evaluate(_with(endless), Sheet(), Context())


def _with(function):
    return replace(TESTS["oxygen-flush"], evaluate=function)


def evaluated(example):
    test = get_test(example["test"])
    context = context_from_dict(
        example.get("context"), test=test, rule=example.get("rule"), instruments=example.get("instruments")
    )
    return evaluate(test, sheet_from_dict(example), context)


def as_coarse(example, share):
    """The example read on instruments that are wrong by a share of their span."""
    worse = deepcopy(dict(example))
    for scale in (scale for instrument in worse["instruments"] for scale in instrument["scales"]):
        scale["accuracy"] = {"of_span": share}
    return worse


@pytest.mark.parametrize("share", [0.05, 0.4, 1.0])
@pytest.mark.parametrize("code", TESTS)
def test_a_coarse_instrument_takes_no_result_away(code, share):
    """A manometer for cylinders at an airway: its uncertainty reaches far past zero, where no law holds."""
    fine, coarse = evaluated(EXAMPLES[code]), evaluated(as_coarse(EXAMPLES[code], share))
    assert [result.key for result in coarse.results] == [result.key for result in fine.results]
