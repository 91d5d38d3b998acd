"""Clicks of a planner for a month of 60 inspections, in a real browser, from Home.

    python -m tests.benchmarks.bench_clicks

A month is booked by the plan of the year; then somebody is ill for two weeks, and the bookings move. Printed are the
presses of links and buttons, and the fields that were filled. At the end every inspection must be booked, and none for
the days of illness.
"""

import argparse
import contextlib
import os
import sys
import tempfile
from datetime import timedelta
from pathlib import Path

MONTH = 60
MOST_CLICKS = 10
PEOPLE = ("Ana", "Ben", "Cleo")


def main():
    argparse.ArgumentParser(
        prog="python -m tests.benchmarks.bench_clicks", description=__doc__.split("\n")[0]
    ).parse_args()
    with tempfile.TemporaryDirectory(prefix="bobbin-clicks-") as folder, contextlib.ExitStack() as stack:
        os.environ.pop("DATABASE_URL", None)
        os.environ |= {"DATA_DIR": folder, "DJANGO_ALLOW_ASYNC_UNSAFE": "true"}
        from tests.benchmarks.bench_keyboard import serve_filled

        planner = []
        address = serve_filled(stack, folder, lambda: fill(planner, folder))
        page = stack.enter_context(page_of(address, planner[0].username))
        return max(book_month(page), be_ill(page))


def fill(planner, folder):
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
        planner.append(make_person("planner"))
        people = [make_person("technician", first_name=name) for name in PEOPLE]
        areas = [make_area(site) for _ in range(3)]
        machines = [make_machine(area=areas[number % 3], model=model) for number in range(MONTH)]
    week = dict(enumerate([360] * 5 + [0, 0]))
    for person in people:
        set_working_hours(person, week, by=planner[0], at=now)
    for number, machine in enumerate(machines):
        due_on = today + timedelta(days=7 + number % 21)
        plan_inspection(machine, procedure, due_on=due_on, by=planner[0], at=now)


class Hand:
    """What a person presses and fills on a page, counted."""

    def __init__(self, page):
        self.page, self.clicks, self.fields = page, 0, 0

    def press(self, role, name, **which):
        self.clicks += 1
        self.page.get_by_role(role, name=name, **which).first.click()

    def choose(self, label, value):
        self.fields += 1
        field = self.page.get_by_label(label, exact=True)
        field.select_option(label=value) if field.evaluate("e => e.tagName") == "SELECT" else field.fill(value)


@contextlib.contextmanager
def page_of(address, username):
    """A page at which the planner is signed in."""
    from playwright.sync_api import sync_playwright

    from tests.factories import PASSWORD
    from tests.services.browser import PATIENCE_MS, QUIET, WIDE, log_in_by_form
    from tests.services.programs import find_program

    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=find_program("chromium", package="chromium"), args=QUIET)
        context = chromium.new_context(base_url=address, viewport=WIDE, locale="en-GB")
        context.set_default_timeout(PATIENCE_MS)
        page = context.new_page()
        log_in_by_form(page, username, PASSWORD)
        yield page
        chromium.close()


def book_month(page):
    """From Home to 60 bookings: compute the plan of the year, and accept it."""
    hand = Hand(page)
    page.goto("/")
    hand.press("link", "Work", exact=True)
    hand.press("link", "The year's plan")
    hand.press("button", "Compute a plan")
    run_jobs()
    page.reload()
    hand.press("link", "Open the result")
    hand.press("button", f"Accept: book {MONTH}")
    page.get_by_text(f"{MONTH} inspections are booked.").wait_for()
    return report("a month of 60 booked, by the plan", hand, booked() == MONTH)


def be_ill(page):
    """From Home to the moved bookings of somebody who is away for two weeks."""
    from django.utils import timezone

    hand, today = Hand(page), timezone.localdate()
    page.goto("/")
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
    return report("two weeks of illness", hand, booked_away(PEOPLE[0], today + timedelta(days=7)) == 0)


def run_jobs():
    """Do the waiting jobs here, as the scheduler of an installation does."""
    from django.utils import timezone

    from fleet.jobs.running import run_waiting_jobs

    run_waiting_jobs(clock=timezone.now, pulse=False)


def booked():
    from inspections.models import Inspection

    return Inspection.objects.booked().count()


def booked_away(name, first):
    from inspections.models import Inspection

    rows = Inspection.objects.booked_between(first, first + timedelta(days=13))
    return rows.filter(technician__first_name=name).count()


def report(what, hand, is_done):
    print(f"{what}: {hand.clicks} clicks, {hand.fields} fields filled (goal: {MOST_CLICKS} clicks at most); "
          f"{'done' if is_done else 'NOT done as meant'}")  # fmt: skip
    return int(hand.clicks > MOST_CLICKS or not is_done)


if __name__ == "__main__":
    sys.exit(main())
