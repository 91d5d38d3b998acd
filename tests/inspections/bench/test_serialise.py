import json
from math import inf

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pytest import approx

from inspections.bench import TESTS, UNITS, BenchError, Reading, Sheet, Zero, get_test, to_si
from inspections.bench.examples import EXAMPLES
from inspections.bench.serialise import (
    YEARS,
    context_from_dict,
    context_to_dict,
    evaluation_from_dict,
    evaluation_to_dict,
    instrument_from_dict,
    limit_from_dict,
    limit_to_dict,
    limits_by_rule,
    sheet_from_dict,
    sheet_to_dict,
)
from inspections.bench.serialise import test_to_dict as declaration_to_dict


def through_json(data):
    return json.loads(json.dumps(data, allow_nan=False))


@pytest.mark.parametrize("code", TESTS)
def test_an_evaluation_reads_back_as_it_was(code):
    example = EXAMPLES[code]
    context = context_from_dict(example["context"], instruments=example["instruments"])
    evaluation = get_test(code).evaluate(sheet_from_dict(example), context)
    assert evaluation.results and not evaluation.missing
    assert evaluation_from_dict(through_json(evaluation_to_dict(evaluation))) == evaluation


@pytest.mark.parametrize("code", TESTS)
def test_context_and_sheet_read_back_to_the_same_result(code):
    example = EXAMPLES[code]
    sheet = sheet_from_dict(example)
    context = context_from_dict(example["context"], instruments=example["instruments"])
    again = context_from_dict(through_json(context_to_dict(context)))
    assert sheet_from_dict(through_json(sheet_to_dict(sheet))) == sheet
    assert get_test(code).evaluate(sheet, again).results == get_test(code).evaluate(sheet, context).results


@pytest.mark.parametrize("test", TESTS.values(), ids=TESTS)
def test_a_declaration_goes_through_json(test):
    data = declaration_to_dict(test)
    assert through_json(data) == data
    assert {spec["key"] for spec in data["outcomes"]} >= {limit["key"] for limit in data["limits"]}
    assert [(one["key"], one["unit"]) for one in data["outcomes"]] == [(one.key, one.unit) for one in test.results]
    for limit, one in zip(data["limits"], test.default_limits, strict=True):
        assert limit_from_dict(limit) == one


@pytest.mark.parametrize(
    ("read", "where"),
    [
        (lambda: context_from_dict([1]), "context"),
        (lambda: context_from_dict({"units": [1]}), "context.units"),
        (lambda: limit_from_dict([1]), "limits"),
    ],
)
def test_a_list_for_an_object_is_refused_with_its_place_and_what_was_given(read, where):
    with pytest.raises(BenchError) as refused:
        read()
    assert str(refused.value) == f"{where}: give an object of names and values, got [1]."


units = st.sampled_from([unit for found in UNITS.values() for unit in found])
readings = st.builds(
    Reading, st.floats(-1e6, 1e6), units, st.none() | st.sampled_from(Zero), st.none() | st.just("G-1")
)


@given(
    sheet=st.builds(
        Sheet,
        st.dictionaries(st.text(max_size=5), readings, max_size=4),
        st.dictionaries(
            st.text(max_size=5),
            st.lists(st.dictionaries(st.text(max_size=5), readings, max_size=3), max_size=3).map(tuple),
            max_size=2,
        ),
        st.dictionaries(st.text(max_size=5), st.text(max_size=5), max_size=2),
    )
)
def test_any_sheet_reads_back_as_it_was(sheet):
    assert sheet_from_dict(through_json(sheet_to_dict(sheet))) == sheet


def test_an_instrument_is_read_in_its_unit():
    """By hand: 0 to 100 psi, 0.5 psi steps, +/-1 psi."""
    scale = {"unit": "psi", "low": 0, "high": 100, "resolution": 0.5, "accuracy": {"absolute": 1}}
    found = instrument_from_dict({"code": "G", "scales": [scale]}).scales[0]
    assert (found.high_si, found.resolution_si, found.accuracy.absolute_si) == approx(
        (to_si(100, "psi"), to_si(0.5, "psi"), to_si(1, "psi"))
    )


def test_a_limit_may_be_given_in_its_unit():
    limit = limit_from_dict(
        {"key": "leak", "rule": "own", "title": "own", "upper": 40, "unit": "mL/min", "source": "manufacturer",
         "edition": "2", "basis": "local"}
    )  # fmt: skip
    assert (limit.lower_si, limit.upper_si) == (None, approx(to_si(40, "mL/min")))
    assert limit_to_dict(limit)["upper"] == approx(40)


@pytest.mark.parametrize(
    ("data", "key", "words"),
    [
        ({"values": {"a": {"value": "3", "unit": "psi"}}}, "values.a.value", "give a number, got '3'"),
        ({"values": {"a": {"value": 3}}}, "values.a.unit", "give the unit"),
        ({"values": {"a": {"value": 3, "unit": "psi", "zero": "sea"}}}, "values.a.zero", "gauge"),
        ({"values": {"a": {"value": 3, "unit": "psi", "gauge": 1}}}, "values.a.gauge", "not known"),
        ({"values": [1]}, "values", "an object"),
        ({"tables": {"t": {"a": 1}}}, "tables.t", "tables.t: give a list"),
        ({"tables": {"t": [{"a": 3}]}}, "tables.t[1].a.3", "an object"),
        ({"choices": {"kind": 3}}, "choices.kind", "a choice is text"),
    ],
)
def test_a_sheet_of_the_wrong_shape_says_where(data, key, words):
    with pytest.raises(BenchError, match=words) as caught:
        sheet_from_dict(data)
    assert caught.value.key == key or key.startswith(caught.value.key)


@pytest.mark.parametrize(
    "data",
    [
        {"ambient_kpa_abs": -1}, {"built_year": "1990"}, {"altitude": 3}, {"instruments": [{"name": "x"}]},
        {"instruments": [{"code": "x", "scales": [{"unit": "furlong", "high": 1}]}]}, 
        {"limits": {"leak": {"rule": "x"}}}, {"rated": {"x": "much"}},
    ],
)  # fmt: skip
def test_a_context_that_cannot_be_is_refused(data):
    with pytest.raises(BenchError):
        context_from_dict(data)


def test_a_context_takes_words_no_vaporizer_and_the_first_year_that_is_accepted():
    words = {"features": {"outlet-check-valve": "fitted"}, "vaporizers": 0, "built_year": YEARS[0]}
    found = context_from_dict(words)
    assert found.features == {"outlet-check-valve": "fitted"}
    assert (found.vaporizers, found.built_year) == (0, YEARS[0])
    with pytest.raises(BenchError, match="'outlet-check-valve' is one of .*, got 1"):
        context_from_dict({"features": {"outlet-check-valve": 1}})


def test_a_place_is_declared_by_its_field_and_column():
    test = get_test("supply-failure")
    assert test.reading_at("set_flow").key == "set_flow"
    assert test.reading_at("falling", "pressure") is test.tables[0].columns[0]
    with pytest.raises(StopIteration):
        test.reading_at("falling", "leak")


def test_an_infinite_dof_becomes_null():
    example = EXAMPLES["observation"]
    evaluation = get_test("observation").evaluate(sheet_from_dict(example), context_from_dict(None))
    assert evaluation.results[0].dof == inf
    assert evaluation_to_dict(evaluation)["outcomes"][0]["dof"] is None


def test_a_rule_that_a_test_does_not_have_is_refused_with_the_rules_that_it_has():
    with pytest.raises(BenchError, match="Its rules: en740-50, f1161-30, f1850-30, iso80601-50"):
        limits_by_rule(get_test("low-pressure-leak"), "of my own")
