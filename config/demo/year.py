"""Calendars of the invented department, and a plan of its year that waits to be accepted."""

from datetime import timedelta

from django.utils import timezone

from fleet.actions import change_site
from fleet.models import Area, MachineModel, Person, Site
from inspections.actions import (
    add_free_day,
    close_area,
    compute_year,
    confirm_competence,
    enter_leave,
    propose_year,
    set_working_hours,
)

COUNTRY = "KE"  # of the time zone of the invented sites
HOURS = {"technician": [4, 4, 4, 4, 3], "technician2": [5, 5, 5, 5, 0], "technician3": [0, 4, 4, 4, 4]}
EVIDENCE = "Training by the manufacturer, certificate in the workshop file"


def plan_the_year(write, people, today):
    """Enter hours, a leave, competences, free and closing days, and propose a plan."""
    by, at = people["planner"], timezone.now()
    for site in Site.objects.all():
        change_site(site, holiday_country=COUNTRY, by=by, at=at)
    for username, hours in HOURS.items():
        minutes = {weekday: 60 * number for weekday, number in enumerate([*hours, 0, 0])}
        set_working_hours(people[username], minutes, by=by, at=at)
    _enter_days(people, today, by=by, at=at)
    _confirm(people, today, by=by, at=at)
    planner = Person.objects.get(pk=by.pk)
    problem, plan, seconds = compute_year(planner, today=today)
    proposed = propose_year(problem, plan, seconds=seconds, by=planner, at=at)
    write(
        f"Year         {proposed} proposes a day for {len(plan.placements)} inspections; {len(plan.unplaced)} have none"
    )


def _enter_days(people, today, *, by, at):
    monday = today + timedelta(days=28 - today.weekday())
    away = {"first_day": monday, "last_day": monday + timedelta(days=11)}
    enter_leave(people["technician2"], kind="leave", **away, by=by, at=at)
    harbour = Site.objects.get(code="orrin-harbour")
    add_free_day(harbour, day=monday + timedelta(days=16), title="Open day of the harbour", by=by, at=at)
    close_area(Area.objects.get(site=harbour, name="Imaging"), weekday=2, reason="Interventional list", by=by, at=at)


def _confirm(people, today, *, by, at):
    """The first technician for every manufacturer, another for one, until a day that comes within the year."""
    manufacturers = sorted(set(MachineModel.objects.values_list("manufacturer", flat=True)))
    for manufacturer in manufacturers:
        confirm_competence(people["technician"], manufacturer=manufacturer, evidence=EVIDENCE, by=by, at=at)
    until = today + timedelta(days=200)
    confirm_competence(
        people["technician2"], manufacturer=manufacturers[0], last_day=until, evidence=EVIDENCE, by=by, at=at
    )
