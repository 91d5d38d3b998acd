from datetime import timedelta

from hypothesis import given
from hypothesis import strategies as st

from inspections.actions import write_remark
from inspections.at_bench.minutes_of_work import from_moments, proposed_minutes
from inspections.forms.signing import proposal_in_words
from tests.factories import NOON

MINUTES = st.integers(0, 30)


def after(*gaps):
    """Moments with these gaps of minutes between them, from noon."""
    moments = [NOON]
    for gap in gaps:
        moments.append(moments[-1] + timedelta(minutes=gap))
    return moments


def test_a_break_of_more_than_half_an_hour_is_left_out():
    found = from_moments(after(10, 30, 31, 5))
    assert (found.minutes, found.left_out, found.start, found.end) == (45, 31, NOON, NOON + timedelta(minutes=76))


def test_what_took_no_time_took_a_minute_and_nothing_takes_more_than_a_day():
    assert from_moments([NOON]).minutes == 1
    assert from_moments(after(*[30] * 100)).minutes == 1440


@given(before=st.lists(MINUTES, max_size=10), later=st.lists(MINUTES, max_size=10), pause=st.integers(31, 3000))
def test_a_break_changes_nothing_and_the_order_of_entries_neither(before, later, pause):
    found = from_moments(reversed(after(*before, pause, *later)))
    assert found.minutes == max(sum(before) + sum(later), 1)
    assert found.left_out == pause


def test_every_entry_counts_also_a_remark_and_a_reading_that_was_corrected(scene):
    scene.enter("set_flow", "4.0", unit="L/min", at=NOON + timedelta(minutes=10))
    scene.enter("set_flow", "4.1", unit="L/min", at=NOON + timedelta(minutes=20))
    write_remark(scene.step(), "Sticks.", by=scene.technician, at=NOON + timedelta(minutes=45))
    found = proposed_minutes(scene.inspection)
    assert (found.minutes, found.left_out) == (45, 0)
    assert "Proposed 45, from the start at 12:00 to the last entry at 12:45." in proposal_in_words(found)
