"""What a test declares is what its fields say: words are texts, truths are truths, units fit their dimension."""

from contextlib import suppress
from dataclasses import fields

import pytest

from inspections.bench.errors import BenchError
from inspections.bench.examples import EXAMPLES
from inspections.bench.quantities import UNITS, Dimension
from inspections.bench.registry import TESTS
from inspections.bench.serialise import context_from_dict, sheet_from_dict
from inspections.bench.uncertainty_ratio import with_instruments

PLAIN = {"str": str, "bool": bool, "int": int, "tuple": tuple}
EVERY = pytest.mark.parametrize("test", TESTS.values(), ids=TESTS)


def parts_of(test):
    tables = (column for table in test.tables for column in table.columns)
    return (test, *test.readings, *test.tables, *tables, *test.choices, *test.results, *test.default_limits)


def evaluated(example, is_named):
    """An example with the instruments that it names, or with none."""
    sheet = sheet_from_dict({key: example[key] for key in ("values", "tables", "choices") if key in example})
    surroundings = context_from_dict(example["context"], instruments=example.get("instruments", ()))
    sheet = sheet if is_named else with_instruments(sheet, {})
    return TESTS[example["test"]].evaluate(sheet, surroundings)


def with_each_option(test):
    """The example under each option of each choice: a limit may hold for one option alone."""
    example = EXAMPLES[test.code]
    for choice in test.choices:
        for option, _ in choice.options:
            with suppress(BenchError):  # an option that the readings of the example do not fit
                yield evaluated(example | {"choices": example.get("choices", {}) | {choice.key: option}}, True)


def plain_type(annotation):
    """The type of a field that is a text, a truth, a whole number or a tuple of anything; None of any other."""
    name = getattr(annotation, "__origin__", annotation)
    return name if name in PLAIN.values() else None


@EVERY
def test_words_truths_and_numbers_are_of_the_type_of_their_field(test):
    for part in parts_of(test):
        for field in fields(part):
            expected = plain_type(field.type)
            assert expected is None or type(getattr(part, field.name)) is expected, (part, field.name)


@EVERY
def test_every_reading_and_result_is_shown_in_a_unit_of_its_dimension(test):
    for reading in test.all_readings():
        assert isinstance(reading.dimension, Dimension), reading.key
        assert set(reading.units) == set(UNITS[reading.dimension]), reading.key
    for result in test.results:
        assert isinstance(result.dimension, Dimension) and result.unit in UNITS[result.dimension], result.key
        assert callable(result.needed) or type(result.needed) is bool, result.key


@pytest.mark.parametrize(
    ("codes", "pressure", "flow"),
    [
        (("supply-failure", "regulator", "pipeline-supply", "cylinder-content"), "psi", "L/min"),
        (("low-pressure-leak", "negative-pressure-leak", "breathing-system-leak"), "cmH2O", "mL/min"),
        (("breathing-compliance", "absorber", "ventilator-volume", "two-bag"), "cmH2O", "L/min"),
    ],
)
def test_supplies_are_read_in_psi_breathing_in_cmh2o_and_leaks_in_ml_per_min_unless_chosen_otherwise(
    codes, pressure, flow
):
    """Units that gauges of the trade show; common practice, no source."""
    first = {Dimension.PRESSURE: pressure, Dimension.FLOW: flow}
    for code in codes:
        for reading in TESTS[code].all_readings():
            assert reading.units[0] == first.get(reading.dimension, reading.units[0]), (code, reading.key)


@EVERY
def test_what_judges_an_example_or_keeps_it_from_being_judged_is_said_in_words(test):
    """A limit that a test makes from its readings is none of its default ones."""
    for evaluation in (evaluated(EXAMPLES[test.code], False), *with_each_option(test)):
        for result in evaluation.results:
            if result.limit:
                printed = (result.limit.title, result.limit.source, result.limit.edition, result.limit.basis)
                assert all(isinstance(one, str) and one for one in printed), result.key
                assert result.limit.key == result.key
            assert isinstance(result.why, str) and isinstance(result.remark, str), result.key


@EVERY
def test_what_a_person_reads_of_a_declaration_is_no_empty_text(test):
    for part in parts_of(test):
        assert all(getattr(part, name).strip() for name in ("label", "title") if hasattr(part, name)), part
    assert all(words.strip() for choice in test.choices for _, words in choice.options)


@pytest.mark.parametrize(("code", "key"), [("vaporizer-output", "flow"), ("earth-and-insulation", "test_voltage")])
def test_what_is_only_set_or_stated_is_given_no_accuracy(code, key):
    test = TESTS[code]
    label = next(reading.label for reading in test.readings if reading.key == key)
    assumed = " ".join(evaluated(EXAMPLES[code], False).assumed).lower()
    assert "no instrument is named for" in assumed and label.lower() not in assumed
