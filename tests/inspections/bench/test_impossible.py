"""Pairs of readings that cannot both be right: each declared pair is found, and real machines are never doubted."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspections.bench.examples import EXAMPLES
from inspections.bench.impossible import NeverAbove, NeverCrosses, contradictions_with
from inspections.bench.registry import TESTS
from inspections.bench.serialise import sheet_from_dict
from inspections.bench.slips import Read, Typed

PAIRS = [(test, pair) for test in TESTS.values() for pair in test.pairs]
ABOVE = [(test, pair) for test, pair in PAIRS if isinstance(pair, NeverAbove)]
CURVES = [(test, pair) for test, pair in PAIRS if isinstance(pair, NeverCrosses)]
FLOWING, STATIC = ("flowing", 0, "pressure"), ("static_pressure", 0, "")


def read(slot, value, step=1.0):
    return Read(slot, value, step)


def reads(*several):
    return {one.slot: one for one in several}


def name(value):
    return value.code if hasattr(value, "code") else None


def columns_of(test):
    found = {(spec.key, ""): spec for spec in test.readings}
    return found | {(table.key, spec.key): spec for table in test.tables for spec in table.columns}


@pytest.mark.parametrize(("test", "pair"), PAIRS, ids=name)
def test_every_pair_names_places_of_its_test_that_compare_and_says_why(test, pair):
    places = columns_of(test)
    if isinstance(pair, NeverAbove):
        compared = [(pair.lower, pair.upper)]
    else:
        compared = [((pair.lower, column), (pair.upper, column)) for column in (pair.x, pair.y)]
    for lower, upper in compared:
        assert places[lower].dimension == places[upper].dimension
    assert pair.reason.endswith(".") and len(pair.reason) > 20


@settings(max_examples=30, deadline=None)
@given(st.floats(100, 1e6), st.floats(0.05, 5))
@pytest.mark.parametrize(("test", "pair"), ABOVE, ids=name)
def test_the_lower_above_the_upper_is_found_from_either_of_the_two_and_never_the_other_way(test, pair, value, more):
    low, high = ((place[0], 0, place[1]) for place in (pair.lower, pair.upper))
    beyond = value * (1 + pair.tolerance + more)
    wrong, right = reads(read(low, beyond), read(high, value)), reads(read(low, value), read(high, beyond))
    for slot in (low, high):
        (found,) = contradictions_with([pair], wrong, slot)
        assert (found.lower.slot, found.upper.slot, found.reason) == (low, high, pair.reason)
        assert contradictions_with(test.pairs, right, slot) == []
    assert contradictions_with([pair], wrong, ("elsewhere", 0, "")) == []


@settings(max_examples=30, deadline=None)
@given(st.floats(100, 1e6), st.floats(0, 0.9))
@pytest.mark.parametrize(("test", "pair"), ABOVE, ids=name)
def test_what_two_gauges_differ_by_is_no_contradiction(test, pair, value, part):
    low, high = ((place[0], 0, place[1]) for place in (pair.lower, pair.upper))
    near = reads(read(low, value * (1 + part * pair.tolerance)), read(high, value))
    assert contradictions_with([pair], near, low) == []


def curve(table, pair, points):
    return [
        read((table, row, column), value, 1e-9)
        for row, point in enumerate(points)
        for column, value in zip((pair.x, pair.y), point, strict=True)
    ]


@settings(max_examples=30, deadline=None)
@given(st.lists(st.tuples(st.floats(1, 100), st.floats(1, 100)), min_size=2, max_size=6), st.randoms())
@pytest.mark.parametrize(("test", "pair"), CURVES, ids=name)
def test_a_curve_that_only_rises_or_falls_is_never_doubted_in_any_order_of_its_rows(test, pair, points, rng):
    xs, ys = sorted(x for x, _ in points), sorted((y for _, y in points), reverse=pair.falls)
    rows = list(zip(xs, ys, strict=True))
    rng.shuffle(rows)
    found = reads(*curve(pair.lower, pair, rows), *curve(pair.upper, pair, rows))
    for slot in found:
        assert contradictions_with([pair], found, slot) == []


@pytest.mark.parametrize(("test", "pair"), CURVES, ids=name)
def test_a_crossing_is_found_from_each_of_its_four_readings(test, pair):
    near, far = (10.0, 100.0) if not pair.falls else (100.0, 10.0)
    if pair.lower == pair.upper:
        crossing = curve(pair.lower, pair, [(near, 9.0), (far, 5.0)])
    else:
        crossing = [*curve(pair.lower, pair, [(near, 9.0)]), *curve(pair.upper, pair, [(far, 5.0)])]
    for one in crossing:
        (found,) = contradictions_with([pair], reads(*crossing), one.slot)
        assert (found.lower.value, found.upper.value) == (9.0, 5.0)


def test_flowing_above_static_of_one_regulator():
    """47 psi under flow where the gauge showed 45 psi without: 4.4 % above."""
    psi = Typed("1", "psi").value
    both = reads(read(FLOWING, 47 * psi, 0.1 * psi), read(STATIC, 45 * psi, 0.1 * psi))
    assert [one.reason for one in contradictions_with(TESTS["regulator"].pairs, both, FLOWING)] == [
        "A regulator gives less pressure under flow than without."
    ]


def test_two_columns_of_one_table_are_compared_row_by_row():
    """A regulator gave 45 psi from a cylinder of 1,800 psi; at 30 psi left in the cylinder it gives less."""
    rows = [read(("supply", row, column), value) for row, pair in enumerate(((1800.0, 45.0), (30.0, 28.0)))
            for column, value in zip(("inlet", "outlet"), pair, strict=True)]  # fmt: skip
    assert contradictions_with(TESTS["regulator"].pairs, reads(*rows), ("supply", 0, "outlet")) == []
    swapped = [*rows, read(("supply", 1, "outlet"), 45.0)]
    assert len(contradictions_with(TESTS["regulator"].pairs, reads(*swapped), ("supply", 1, "outlet"))) == 1


def test_a_device_that_opens_at_a_lower_pressure_than_it_shut_at():
    """Shut at 25 psi as oxygen fell, yet open again at 22 psi as it rose."""
    falling = [(30.0, 4.0), (25.0, 0.2), (20.0, 0.0)]
    rising = [(18.0, 0.0), (22.0, 3.5), (30.0, 4.0)]
    pair = next(one for one in TESTS["supply-failure"].pairs if getattr(one, "lower", "") != getattr(one, "upper", "")
                and isinstance(one, NeverCrosses))  # fmt: skip
    found = reads(*curve("falling", pair, falling), *curve("rising", pair, rising))
    assert contradictions_with([pair], found, ("rising", 1, "flow"))
    later = reads(*curve("falling", pair, falling), *curve("rising", pair, [(18.0, 0.0), (26.0, 0.1), (30.0, 4.0)]))
    assert contradictions_with([pair], later, ("rising", 1, "flow")) == []


def test_of_suction_the_magnitude_counts_in_a_curve_and_a_pair_says_nothing():
    decay = next(one for one in TESTS["low-pressure-leak"].pairs if isinstance(one, NeverCrosses))
    rows = curve("decay", decay, [(0.0, -3000.0), (10.0, -2500.0), (20.0, -2200.0)])
    assert contradictions_with([decay], reads(*rows), ("decay", 1, "pressure")) == []
    injected = next(one for one in TESTS["low-pressure-leak"].pairs if isinstance(one, NeverAbove))
    both = reads(read(("injected_before", 0, ""), -3000.0), read(("injected_after", 0, ""), -2000.0))
    assert contradictions_with([injected], both, ("injected_after", 0, "")) == []


@pytest.mark.parametrize("code", EXAMPLES)
def test_no_example_of_a_test_contradicts_itself(code):
    sheet, found = sheet_from_dict(EXAMPLES[code]), {}
    places = {(key, 0, ""): one for key, one in sheet.values.items()}
    places |= {(key, row, column): one for key, rows in sheet.tables.items() for row, cells in enumerate(rows)
               for column, one in cells.items()}  # fmt: skip
    for slot, one in places.items():
        if one.unit != "yes/no":
            typed = Typed(f"{one.value:.10g}", one.unit, one.zero, 101_325.0)
            found[slot] = Read(slot, typed.value, typed.step)
    test = TESTS[EXAMPLES[code]["test"]]
    assert [
        contradictions_with(test.pairs, found, slot) for slot in found if contradictions_with(test.pairs, found, slot)
    ] == []
