"""Weeks by technicians as a picture and in words."""

import re
from datetime import date, timedelta

from fleet.drawing import to_svg
from inspections.drawing import LoadRow, WeekBar, describe_week_load, week_load, weeks_before_and_after

MONDAY = date(2027, 1, 4)


def rows(*loads):
    weeks = tuple(
        WeekBar(MONDAY + timedelta(weeks=number), 20, booked, proposed)
        for number, (booked, proposed) in enumerate(loads)
    )
    return [LoadRow("Ana Ferro", weeks)]


def svg_of(drawing):
    return to_svg(drawing, "Weeks", "")


def test_a_week_beyond_its_hours_bears_a_sign_that_does_not_depend_on_colour():
    within, beyond = svg_of(week_load(rows((10, 10)))), svg_of(week_load(rows((10, 10.5))))
    assert within.count(">+<") == 0 and beyond.count(">+<") == 1


def test_the_words_name_the_load_and_the_fullest_week():
    assert describe_week_load(rows((1, 2), (10, 5.5))) == (
        "Ana Ferro: 18 of 40 hours, most in the week of 2027-01-11 with 15.5 of 20.0."
    )
    assert describe_week_load([]) == "No technician has working hours."


def test_no_month_is_written_over_another():
    """53 weeks from the end of November: January bears its year, so there is no room for February."""
    weeks = tuple(WeekBar(date(2026, 11, 30) + timedelta(weeks=number), 20, 0, 0) for number in range(53))
    svg = svg_of(week_load([LoadRow("Ana Ferro", weeks)], width=896, text=13))
    months = re.findall(r">((?:Jan|Feb|Mar|Apr|Nov|Dec)(?: 20\d\d)?)<", svg)
    assert months == ["Nov 2026", "Jan 2027", "Mar", "Apr", "Nov"]


def test_no_technician_and_no_hours_are_drawn_too():
    assert "<svg" in svg_of(week_load([])) and "<svg" in svg_of(week_load([LoadRow("A", (WeekBar(MONDAY, 0, 0, 0),))]))
    assert "<svg" in svg_of(weeks_before_and_after([(MONDAY, 3)], [(MONDAY, 1)]))
