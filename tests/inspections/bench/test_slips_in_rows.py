"""Earlier sweeps seen at today's settings: along a curve, at the same settings in other rows, where nobody knows."""

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from inspections.bench.declarations import TableSpec
from inspections.bench.quantities import UNITS
from inspections.bench.registry import TESTS
from inspections.bench.slips import Read, Typed, in_rows_of_today, knowledge_of, question_about

SETS = ("pressure",)
PROPORTIONAL = ((50, 5), (40, 4), (30, 3), (20, 2), (10, 1))  # psi and L/min, worked by hand


def entry(row, column, digits, occasion=0):
    unit = "psi" if column == "pressure" else "L/min"
    typed = Typed(digits, unit)
    return Read(("falling", row, column), typed.value, typed.step, occasion)


def sweep(points, occasion=0):
    return [
        entry(row, column, f"{number:.1f}", occasion)
        for row, point in enumerate(points)
        for column, number in zip(("pressure", "flow"), point, strict=True)
    ]


def question(row, column, digits, here, *, earlier):
    slot, units = ("falling", row, column), UNITS["pressure" if column == "pressure" else "flow"]
    seen = in_rows_of_today(slot, [one for one in earlier if one.slot[2] == column], here, SETS, earlier)
    now = [one for one in here if one.slot[2] == column]
    known = knowledge_of(slot, seen, now, is_set=column in SETS)
    return question_about(Typed(digits, "psi" if column == "pressure" else "L/min"), units, known)


def test_a_reading_is_compared_with_the_one_at_the_same_setting_in_whatever_row_it_was():
    """50, 20 and 10 psi today: row 2 is at 20 psi, where it was 2 L/min, and not 4 as in row 2 of last time."""
    here = [entry(0, "pressure", "50.0"), entry(1, "pressure", "20.0"), entry(0, "flow", "5.0")]
    earlier = sweep(PROPORTIONAL)
    assert question(1, "flow", "2.0", here, earlier=earlier) is None
    assert [one.typed.digits for one in question(1, "flow", "20", here, earlier=earlier).alternatives] == ["2"]


def test_between_two_settings_the_reading_may_be_anything_between_theirs():
    here = [entry(0, "pressure", "25.0")]
    (seen,) = [
        one
        for one in in_rows_of_today(
            ("falling", 0, "flow"), [one for one in sweep(PROPORTIONAL) if one.slot[2] == "flow"], here, SETS,
            sweep(PROPORTIONAL),
        )
        if one.slot[1] == 0
    ]  # fmt: skip
    assert seen.value == pytest.approx(Typed("2.5", "L/min").value) and seen.is_between
    assert sorted(seen.beside) == pytest.approx([Typed("2", "L/min").value, Typed("3", "L/min").value])


def test_beyond_the_last_setting_the_curve_goes_on_or_stays():
    here, flows = [entry(0, "pressure", "60.0")], [one for one in sweep(PROPORTIONAL) if one.slot[2] == "flow"]
    seen = in_rows_of_today(("falling", 0, "flow"), flows, here, SETS, sweep(PROPORTIONAL))
    assert sorted(seen[0].beside) == pytest.approx([Typed("5", "L/min").value, Typed("6", "L/min").value])


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(10, 50), min_size=1, max_size=5), st.integers(1, 4))
def test_a_sweep_at_any_other_settings_on_the_same_curve_is_never_asked_about(chosen, times):
    earlier = [one for occasion in range(times) for one in sweep(PROPORTIONAL, occasion)]
    here = []
    for row, setting in enumerate([50.0, *sorted(chosen, reverse=True)]):
        here.append(entry(row, "pressure", f"{setting:.1f}"))
        assert question(row, "flow", f"{setting / 10:.2f}", here, earlier=earlier) is None
        here.append(entry(row, "flow", f"{setting / 10:.2f}"))


@settings(max_examples=60, deadline=None)
@given(st.sampled_from((15.0, 25.0, 35.0, 45.0)), st.sampled_from((-2, 2)))
def test_a_point_shifted_by_two_places_is_asked_about_at_settings_between(setting, places):
    here = [entry(0, "pressure", f"{setting:.1f}")]
    digits = f"{setting / 10 * 10**places:.4f}".rstrip("0").rstrip(".")
    assert question(0, "flow", digits, here, earlier=sweep(PROPORTIONAL)) is not None


def test_once_rows_are_at_other_settings_those_below_are_not_asked_why():
    """44 and 34 psi say that today has settings of its own: 13 psi in the next row are no swapped 31."""
    earlier = [one for occasion in range(3) for one in sweep(((50, 5), (40, 4), (31, 3), (10, 2)), occasion)]
    same = [entry(0, "pressure", "50.0"), entry(1, "pressure", "40.0")]
    other = [entry(0, "pressure", "44.0"), entry(1, "pressure", "34.0")]
    assert question(2, "pressure", "13", same, earlier=earlier) is not None
    assert question(2, "pressure", "13", other, earlier=earlier) is None


def test_of_two_settings_in_a_row_both_must_be_as_before():
    def mixed(row, column, digits):
        return Read(("grid", row, column), Typed(digits, "L/min").value, Typed(digits, "L/min").step)

    sets, slot = ("oxygen_set", "other_set"), ("grid", 0, "other_flow")
    rows = (("1.0", "2.0", "2.0"), ("1.0", "6.0", "2.6"))
    before = [
        mixed(row, column, digits)
        for row, texts in enumerate(rows)
        for column, digits in zip((*sets, "other_flow"), texts, strict=True)
    ]
    flows = [one for one in before if one.slot[2] == "other_flow"]
    same = [mixed(0, "oxygen_set", "1.0"), mixed(0, "other_set", "6.0")]
    new = [mixed(0, "oxygen_set", "0.5"), mixed(0, "other_set", "6.0")]
    at_same, at_new = (in_rows_of_today(slot, flows, here, sets, before)[0] for here in (same, new))
    assert at_same.value == pytest.approx(Typed("2.6", "L/min").value) and not at_same.is_between
    assert at_new.is_between and at_new.beside == pytest.approx((flows[0].value, flows[1].value))


def test_where_nothing_is_set_each_row_knows_the_rows_above_and_below_it_at_the_same_inspection():
    def seen(row, value, occasion=0, column="reading"):
        return Read(("points", row, column), value, 0.1, occasion)

    earlier = [seen(0, 1.0), seen(1, 2.0), seen(2, 4.0), seen(1, 9.0, occasion=1), seen(0, 5.0, column="")]
    found = in_rows_of_today(("points", 1, "reading"), earlier, [], ())
    assert [one.beside for one in found] == [(2.0,), (1.0, 4.0), (2.0,), (), ()]
    assert [replace(one, beside=()) for one in found] == earlier


def test_of_a_sweep_of_one_row_that_row_is_what_is_known_at_any_setting():
    before, here = sweep([(40, 4)]), [entry(0, "pressure", "25.0")]
    (seen,) = in_rows_of_today(("falling", 0, "flow"), before[1:], here, SETS, before)
    assert (seen.value, seen.is_between) == (before[1].value, True)


def test_the_row_above_of_today_is_one_of_the_expectations():
    """What the same row was before is there to compare with; two rows up is not looked at."""
    earlier, now = [entry(2, "flow", "3.0")], [entry(0, "flow", "5.0"), entry(1, "flow", "4.0")]
    expected = knowledge_of(("falling", 2, "flow"), earlier, now).expectations
    assert [one.centre for one in expected if one.source == "row above"] == [now[1].value]


def test_every_sweep_declares_what_is_set_in_it():
    with pytest.raises(TypeError, match="no column of it"):
        TableSpec("falling", "Falling sweep", (), 0, 1, sets=("pressure",))
    swept = {(code, table.key) for code, test in TESTS.items() for table in test.tables if table.sets}
    assert {("supply-failure", "falling"), ("supply-failure", "rising"), ("regulator", "flowing")} <= swept
