"""What a planner is asked about before a booking: late, free days, closed areas, more work than a day has."""

from datetime import timedelta

from fleet.models import AwayPeriod
from fleet.web.at_site import day_words
from inspections.models import Inspection
from inspections.models.calendars import WEEKDAYS
from inspections.schedule.free_days import closings_of, free_days
from inspections.schedule.usual_minutes import usual_minutes
from inspections.schedule.working_days import ASSUMED_MINUTES, away_on, leaves_between, weekly_hours

OVERDUE_DAYS = 14  # within which overdue work is booked without a question; common practice, no source


def booking_questions(inspections, technician, day, today):
    """Return a sentence for each reason to think twice about a booking. At most seven queries, whatever is booked."""
    hours = weekly_hours([technician.pk]).get(technician.pk)
    return [
        *_late(inspections, day, today),
        *_not_there(inspections, day),
        *_free(inspections, day),
        *_closed(inspections, day),
        *(_away(technician, day, hours) or _too_much(inspections, technician, day, hours)),
    ]


def _late(inspections, day, today):
    late = [one for one in inspections if day > max(one.closes_on, today + timedelta(days=OVERDUE_DAYS))]
    late += [one for one in inspections if one.closes_on >= today and day > one.closes_on and one not in late]
    if not late:
        return []
    last = min(one.closes_on for one in late)
    window = f"the last day of the due window is {day_words(last)}"
    if len(inspections) == 1:
        return [f"{day_words(day)} is late: {window}."]
    return [f"{day_words(day)} is late for {len(late)} of {len(inspections)} inspections: {window} for the first."]


def _not_there(inspections, day):
    """The machines that are lent or at a repair outside and not expected back by the day."""
    rows = AwayPeriod.objects.now().filter(machine__in={one.machine_id for one in inspections}, expected_on__gt=day)
    return [
        f"{away.machine} is away until {day_words(away.expected_on)}: {away.get_kind_display()}, {away.to_whom}."
        for away in rows.select_related("machine").order_by("machine__asset_number")
    ]


def _free(inspections, day):
    sites = {one.machine.area.site_id: one.machine.area.site for one in inspections}
    found = free_days(sites.values(), day, day)
    return [
        f"{day_words(day)} is a free day of {sites[key]}: {days[day]}." for key, days in sorted(found.items()) if days
    ]


def _closed(inspections, day):
    areas = {one.machine.area_id: one.machine.area for one in inspections}
    found = closings_of(areas)
    closed = [(key, next((one for one in found[key] if one.holds(day)), None)) for key in sorted(areas)]
    return [f"{areas[key]} gives no machine away on {day_words(day)}: {one.reason}." for key, one in closed if one]


def _away(technician, day, hours):
    leave = away_on(leaves_between([technician.pk], day, day)[technician.pk], day)
    if leave:
        return [f"{technician} is away on {day_words(day)}: {leave.get_kind_display().lower()}."]
    if hours is None and day.weekday() >= 5:
        return [f"{day_words(day)} is a {WEEKDAYS[day.weekday()]}."]
    if hours is not None and not hours.get(day.weekday()):
        return [f"{technician} has no working hours on a {WEEKDAYS[day.weekday()]}, {day_words(day)}."]
    return []


def _too_much(inspections, technician, day, hours):
    chosen = {one.pk for one in inspections}
    booked = Inspection.objects.open().for_technician(technician).filter(booked_on=day).exclude(pk__in=chosen)
    pairs = list(booked.values_list("procedure", "machine__model"))
    pairs += [(one.procedure_id, one.machine.model_id) for one in inspections]
    usual = usual_minutes(set(pairs))
    needed = sum(usual[pair] for pair in pairs)
    there = ASSUMED_MINUTES if hours is None else hours.get(day.weekday(), 0)
    if needed <= there:
        return []
    assumed = ", assumed because no hours are entered" if hours is None else ""
    return [
        f"{technician} would have {len(pairs)} inspections of about {needed} minutes together on "
        f"{day_words(day)}; the day has {there}{assumed}."
    ]
