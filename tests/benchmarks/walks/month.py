"""A planner: a month of 60 inspections booked by the plan of the year, and two weeks of illness in it."""

from datetime import timedelta
from pathlib import Path

from tests.benchmarks.walks.hand import hand_of, page_of

MONTH = 60
MOST_CLICKS = 10  # the acceptance line of the owner
PEOPLE = ("Ana", "Ben", "Cleo")


def fill(folder):
    """Three technicians with hours, and 60 machines of three areas with an inspection due in the coming weeks."""
    from django.utils import timezone

    from fleet.acting.scope import acting
    from inspections.actions import plan_inspection, set_working_hours
    from tests.factories import (
        make_area,
        make_instrument,
        make_machine,
        make_model,
        make_person,
        make_procedure,
        make_site,
    )
    from tests.inspections.scenes import SHORT

    now, today = timezone.now(), timezone.localdate()
    with acting("benchmark"):
        procedure = make_procedure(SHORT, directory=Path(folder))
        site, model = make_site(), make_model()
        make_instrument(site=site, due_on=today + timedelta(days=300))
        planner = make_person("planner", username="walk-planner")
        people = [make_person("technician", first_name=name) for name in PEOPLE]
        areas = [make_area(site) for _ in range(3)]
        machines = [make_machine(area=areas[number % 3], model=model) for number in range(MONTH)]
    week = dict(enumerate([360] * 5 + [0, 0]))
    for person in people:
        set_working_hours(person, week, by=planner, at=now)
    for number, machine in enumerate(machines):
        due_on = today + timedelta(days=7 + number % 21)
        plan_inspection(machine, procedure, due_on=due_on, by=planner, at=now)


def walk(address, options):
    with page_of(address, "walk-planner", options.width) as page:
        return max(book_month(page, options), be_ill(page, options))


def book_month(page, options):
    """From Home to 60 bookings: compute the plan of the year, and accept it."""
    hand = hand_of(page, options, "month")
    hand.press("link", "Work", exact=True)
    hand.press("link", "The year's plan")
    hand.press("button", "Compute a plan")
    hand.wait_for_job()
    hand.press("link", "Open the result")
    hand.press("button", f"Accept: book {MONTH}")
    page.get_by_text(f"{MONTH} inspections are booked.").wait_for()
    return hand.report("a month of 60 booked, by the plan", goal=MOST_CLICKS, is_done=booked() == MONTH)


def be_ill(page, options):
    """From Home to the moved bookings of somebody who is away for two weeks."""
    from django.utils import timezone

    hand, today = hand_of(page, options, "illness"), timezone.localdate()
    hand.press("link", "Work", exact=True)
    hand.press("link", "The year's plan")
    hand.press("link", "Somebody is away")
    person = page.get_by_label("Technician", exact=True).locator("option", has_text=PEOPLE[0]).inner_text()
    hand.choose("Technician", person)
    hand.choose("First day", f"{today + timedelta(days=7)}")
    hand.choose("Last day", f"{today + timedelta(days=20)}")
    hand.press("button", "Show what would move")
    hand.press("button", "Enter as away and move")
    page.get_by_text("is entered as away").wait_for()
    is_done = booked_away(PEOPLE[0], today + timedelta(days=7)) == 0
    return hand.report("two weeks of illness", goal=MOST_CLICKS, is_done=is_done)


def booked():
    from inspections.models import Inspection

    return Inspection.objects.booked().count()


def booked_away(name, first):
    from inspections.models import Inspection

    rows = Inspection.objects.booked_between(first, first + timedelta(days=13))
    return rows.filter(technician__first_name=name).count()
