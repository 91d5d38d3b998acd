"""What a place may be expected to show before anything, or little, was read there. By hand."""

from math import log

import pytest

from inspections.bench.quantities import to_si
from inspections.bench.registry import TESTS
from inspections.bench.slips import Range, Read, knowledge_of
from inspections.bench.slips.usual import USUAL, ranges_of

PLACE = ("grid", 2, "other_flow")
KPA = 1000.0


def expected_of(source, *, slot=PLACE, **more):
    known = knowledge_of(slot, more.pop("earlier", ()), **more)
    return [(one.centre, one.spread, one.weight) for one in known.expectations if one.source == source]


def test_a_range_without_a_reading_is_expected_about_its_geometric_middle():
    """100 to 400 kPa: the middle of the factor 4 is 200; half of it is log 2, and 0.25 stands on both sides of that."""
    (found,) = expected_of("usual", ranges=[Range(100 * KPA, 400 * KPA)])
    assert found == pytest.approx((200 * KPA, log(2) + 0.25, 1.0))


def test_a_range_of_a_temperature_is_expected_about_its_mean():
    """288 to 308 K: 298; half of 20 K is one step of the scale."""
    (found,) = expected_of("usual", ranges=[Range(288, 308)], is_linear=True)
    assert found == pytest.approx((298, 1.25, 1.0))


def test_beside_earlier_readings_a_range_counts_for_a_tenth_of_one():
    earlier = [Read(PLACE, 200 * KPA, KPA)]
    ((_, _, weight),) = expected_of("rated", earlier=earlier, ranges=[Range(300 * KPA, 300 * KPA, "rated")])
    assert weight == 0.1


@pytest.mark.parametrize("ends", [(0.0, 400 * KPA), (0.0, 0.0)])
def test_a_range_that_begins_at_nothing_says_nothing(ends):
    assert expected_of("usual", ranges=[Range(*ends)]) == []


@pytest.mark.parametrize(("of_model", "source", "spread"), [(True, "same model", 0.12), (False, "earlier", 0.08)])
def test_readings_of_the_model_are_expected_less_closely_than_those_of_the_machine(of_model, source, spread):
    ((centre, found, _),) = expected_of(source, earlier=[Read(PLACE, 3.0, 0.0)], of_model=of_model)
    assert (centre, found) == (3.0, pytest.approx(spread))


def test_only_the_row_directly_above_is_expected_again():
    earlier = [Read(PLACE, 3.0, 0.1)]
    now = [Read(("grid", row, "other_flow"), value, 0.1) for row, value in ((0, 7.0), (1, 5.0), (3, 9.0))]
    assert expected_of("row above", earlier=earlier, now=now) == [(5.0, 0.3, 0.1)]


def test_a_reading_that_is_in_no_table_has_no_row_above():
    slot = ("pressure", 1, "")
    now = [Read(("pressure", 0, ""), 5.0, 0.1)]
    assert expected_of("row above", slot=slot, earlier=[Read(slot, 3.0, 0.1)], now=now) == []


def test_every_usual_range_belongs_to_a_place_of_its_test_and_is_found_there():
    for code, places in USUAL.items():
        fields = {reading.key: {""} for reading in TESTS[code].readings}
        fields |= {table.key: {column.key for column in table.columns} for table in TESTS[code].tables}
        for (field, column), usual in places.items():
            assert column in fields[field], (code, field, column)
            assert ranges_of(code, field, column) == [
                Range(to_si(usual.low, usual.unit), to_si(usual.high, usual.unit))
            ]


def test_a_rated_value_comes_before_the_usual_range_if_it_is_above_zero():
    place = ("pipeline-supply", "pressure")
    assert ranges_of(*place, rated={"pipeline_pressure": 4e5}) == [Range(4e5, 4e5, "rated")]
    assert ranges_of(*place, rated={"pipeline_pressure": 0.0}) == ranges_of(*place)
    assert ranges_of(*place, "no column") == []
