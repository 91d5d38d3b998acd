"""Bookings in a calendar program: RFC 5545, moved and cancelled ones, a change to summer time, links that end."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.test import Client
from django.urls import reverse
from icalendar import Calendar

from inspections.actions import (
    book_inspection,
    make_calendar_feed,
    unbook_inspection,
    void_inspection,
    withdraw_calendar_entry,
)
from inspections.errors import Refused
from inspections.models import CalendarFeed, FeedEvent
from inspections.schedule.calendar_feed import feed_as_ical
from tests.factories import NOON, TODAY
from tests.inspections.calendar_scene import make_department
from tests.services.calendar_reader import read_calendar
from tests.services.programs import Missing

DAY = TODAY + timedelta(days=7)


@pytest.fixture
def department(db, tmp_path):
    return make_department(tmp_path, machines=3, time_zone="Europe/Lisbon")


def book(department, number, *, day=DAY, who=0):
    one = department.inspections[number]
    book_inspection(one, technician=department.people[who], booked_on=day, by=department.planner, at=NOON)
    return one


def feed_of(department, **subject):
    subject = subject or {"person": department.people[0]}
    return make_calendar_feed(by=department.planner, at=NOON, **subject)[0]


def text_of(department):
    feed = CalendarFeed.objects.filter(person=department.people[0]).first()
    return feed_as_ical(feed, today=TODAY, at=NOON).decode()


def events(feed):
    """The events by key of the inspection, as another program reads them."""
    text = feed_as_ical(feed, today=TODAY, at=NOON)
    assert text.startswith(b"BEGIN:VCALENDAR\r\n") and all(len(line) <= 75 for line in text.split(b"\r\n"))
    found = Calendar.from_ical(text).walk("VEVENT")
    return {int(str(event["uid"]).split("-")[1]): event for event in found}


def test_bookings_of_a_day_follow_each_other_in_the_zone_of_the_site(department):
    first, second = book(department, 0), book(department, 1)
    book(department, 2, who=1)
    read = events(feed_of(department))
    lisbon = ZoneInfo("Europe/Lisbon")
    assert set(read) == {first.pk, second.pk}
    assert read[first.pk]["dtstart"].dt == datetime(DAY.year, DAY.month, DAY.day, 8, tzinfo=lisbon)
    assert read[first.pk]["dtend"].dt == read[second.pk]["dtstart"].dt
    assert len(events(feed_of(department, area=department.area))) == 3


def test_eight_o_clock_stays_eight_o_clock_across_the_change_to_summer_time(department):
    """Source: directive 2000/84/EC: summer time begins on the last Sunday of March, at 01:00 UTC."""
    before, after = book(department, 0, day=date(2027, 3, 26)), book(department, 1, day=date(2027, 3, 29))
    read = events(feed_of(department))
    starts = [read[one.pk]["dtstart"].dt for one in (before, after)]
    assert [start.hour for start in starts] == [8, 8]
    assert [start.utcoffset() for start in starts] == [timedelta(0), timedelta(hours=1)]
    assert read[before.pk]["dtstart"].params["TZID"] == "Europe/Lisbon"
    changes = [line for line in text_of(department).splitlines() if line.startswith("RDATE")]
    assert "RDATE:20270328T020000" in changes and not [line for line in changes if "," in line]


def test_another_program_reads_what_was_moved_cancelled_and_booked_across_summer_time(department):
    """Read back by ical.js with the zone that the feed itself brings. Source of the instants: directive 2000/84/EC."""
    before, after = book(department, 0, day=date(2027, 3, 26)), book(department, 1, day=date(2027, 3, 29))
    gone = book(department, 2)
    feed = feed_of(department)
    events(feed)
    book(department, 1, day=date(2027, 3, 30))
    unbook_inspection(gone, by=department.planner, at=NOON)
    try:
        read = {int(one["uid"].split("-")[1]): one for one in read_calendar(feed_as_ical(feed, today=TODAY, at=NOON))}
    except Missing as missing:
        pytest.skip(str(missing))
    assert read[before.pk]["start"] == datetime(2027, 3, 26, 8, tzinfo=UTC).timestamp()
    assert read[after.pk]["start"] == datetime(2027, 3, 30, 7, tzinfo=UTC).timestamp()
    assert {key: (one["status"], one["sequence"]) for key, one in read.items()} == {
        before.pk: ("CONFIRMED", 0), after.pk: ("CONFIRMED", 1), gone.pk: ("CANCELLED", 1),
    }  # fmt: skip
    assert before.machine.asset_number in read[before.pk]["summary"]
    assert all(one["end"] > one["start"] for one in read.values())


def test_a_moved_booking_has_a_higher_sequence_and_an_unchanged_one_the_same(department):
    first, second = book(department, 0), book(department, 1, day=DAY + timedelta(days=1))
    feed = feed_of(department)
    assert [events(feed)[one.pk]["sequence"] for one in (first, second)] == [0, 0]
    book(department, 0, day=DAY + timedelta(days=2))
    read = events(feed)
    assert [read[one.pk]["sequence"] for one in (first, second)] == [1, 0]
    assert read[first.pk]["dtstart"].dt.date() == DAY + timedelta(days=2)


def test_what_is_taken_away_void_or_given_to_somebody_else_is_cancelled(department):
    first, second, third = (book(department, number) for number in range(3))
    feed = feed_of(department)
    assert {str(event["status"]) for event in events(feed).values()} == {"CONFIRMED"}
    unbook_inspection(first, by=department.planner, at=NOON)
    void_inspection(second, reason="Twice", by=department.planner, at=NOON)
    book(department, 2, who=1)
    read = events(feed)
    assert {str(event["status"]) for event in read.values()} == {"CANCELLED"}
    assert {event["sequence"] for event in read.values()} == {1}
    book(department, 2)
    assert str(events(feed)[third.pk]["status"]) == "CONFIRMED" and events(feed)[third.pk]["sequence"] == 2


def test_a_booking_that_comes_back_after_a_long_time_is_the_same_event(department):
    one, feed = book(department, 0), feed_of(department)
    events(feed)
    FeedEvent.objects.update(starts_at=NOON - timedelta(days=400))
    assert events(feed)[one.pk]["sequence"] == 1


def test_a_link_is_read_without_a_login_until_it_is_withdrawn(department):
    book(department, 0)
    planner, anybody = Client(), Client()
    planner.force_login(department.planner)
    page = planner.post(reverse("inspections:calendar_feeds"), {"technician": department.people[0].pk})
    link = page.context["link"].removeprefix("http://testserver")
    answer = anybody.get(link)
    assert answer["Content-Type"] == "text/calendar; charset=utf-8" and b"BEGIN:VEVENT" in answer.content
    assert link.split("/")[-1].removesuffix(".ics") not in planner.get(reverse("inspections:calendar_feeds")).text
    feed = CalendarFeed.objects.get()
    assert planner.post(reverse("inspections:calendar_withdraw", args=["feed", feed.pk])).status_code == 302
    assert anybody.get(link).status_code == 404 and anybody.get("/calendar/other.ics").status_code == 404


def test_the_link_of_somebody_whose_account_is_locked_is_not_found(department):
    ana = department.people[0]
    _, code = make_calendar_feed(person=ana, by=department.planner, at=NOON)
    type(ana).objects.filter(pk=ana.pk).update(is_active=False)
    assert Client().get(reverse("inspections:calendar_feed", args=[code])).status_code == 404


def test_a_link_is_of_one_technician_or_one_area_and_not_without_number(department):
    with pytest.raises(Refused, match="Choose one of the two"):
        make_calendar_feed(by=department.planner, at=NOON)
    for _ in range(5):
        feed = feed_of(department)
    with pytest.raises(Refused, match="Withdraw one"):
        feed_of(department)
    withdraw_calendar_entry(feed, by=department.planner, at=NOON)
    feed_of(department)
