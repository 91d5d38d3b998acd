"""Days in the styles of places, and what is read as a day."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fleet.place_format import DAY_STYLES, day_text, read_written_day

DAYS = st.dates(date(1900, 1, 1), date(2100, 12, 31))
STYLES = st.sampled_from(sorted(DAY_STYLES))


@given(day=DAYS, style=STYLES)
def test_a_day_that_a_place_writes_is_read_there_as_the_same_day(day, style):
    assert read_written_day(day_text(day, style), style) == day


@given(day=DAYS, style=STYLES, written=st.sampled_from(("D MMM YYYY", "MMM D, YYYY", "YYYY-MM-DD")))
def test_a_month_in_letters_and_iso_8601_are_read_everywhere(day, style, written):
    assert read_written_day(day_text(day, written), style) == day


@pytest.mark.parametrize("style", sorted(set(DAY_STYLES) - {"DD/MM/YYYY", "MM/DD/YYYY"}))
def test_digits_with_strokes_are_no_day_where_the_place_does_not_write_days_so(style):
    with pytest.raises(ValueError, match=r"is not a date\. Write it as"):
        read_written_day("03/04/2026", style)


@pytest.mark.parametrize("text", ["31/02/2026", "2026-13-01", "0/1/2026", "3 Foo 2026", "soon", ""])
def test_what_is_no_day_of_the_calendar_is_refused(text):
    with pytest.raises(ValueError, match="is not a date"):
        read_written_day(text, "DD/MM/YYYY")
