"""When a component with a life is due."""

from datetime import date, timedelta

from dateutil.relativedelta import relativedelta
from hypothesis import example, given
from hypothesis import strategies as st

from inspections.planning.part_life import Basis, due_of, last_fitted_due

FITTED = date(2026, 1, 31)
days = st.dates(date(2000, 1, 1), date(2090, 12, 31))


def test_a_life_in_months_ends_on_a_day():
    assert due_of(FITTED, 1, "months").on == date(2026, 2, 28)
    assert due_of(FITTED, 24, "months").basis is Basis.DATE


def test_a_life_in_hours_without_a_reading_cannot_be_decided():
    found = due_of(FITTED, 500, "hours")
    assert (found.on, found.basis) == (None, Basis.UNDECIDED)
    assert str(found.basis) == "cannot be decided: no meter reading"


def test_a_life_in_hours_is_used_up_or_estimated_from_the_use_per_day():
    """By hand: 100 of 500 hours in 10 days leave 400 hours, 40 days at 10 hours a day."""
    read_on = FITTED + timedelta(days=10)
    found = due_of(FITTED, 500, "hours", 100, read_on)
    assert (found.on, found.basis) == (read_on + timedelta(days=40), Basis.ESTIMATE)
    assert due_of(FITTED, 500, "hours", 500, read_on).on == read_on
    assert due_of(FITTED, 500, "hours", 499, read_on).basis is Basis.ESTIMATE
    assert due_of(FITTED, 500, "hours", 0, read_on).on is None
    assert due_of(FITTED, 500, "hours", 3, FITTED).on is None
    assert due_of(FITTED, 10**6, "cycles", 1, date(2060, 1, 1)).on.year == 9000


@given(days, st.integers(1, 240))
@example(date(2026, 2, 28), 1)  # fitted on 31 January at the latest
def test_the_last_day_of_fitting_is_the_last_that_is_due(by, months):
    day = last_fitted_due(by, months)
    assert day + relativedelta(months=months) <= by
    assert all(day + timedelta(days=n) + relativedelta(months=months) > by for n in range(1, 5))
