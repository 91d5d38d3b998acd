"""A department's first day: clicks and answers from an empty installation to the first opened inspection.

    python -m tests.benchmarks.bench_first_day [--machines 200] [--seed 1] [--width 768] [--shots FOLDER]

A messy register of invented machines (tests/messy_register.py) is imported in a real browser. Goals: at most 40 answers
to what its values mean, and 30 clicks for the whole day after signing in.
"""

import argparse
import contextlib
import os
import sys
import tempfile
import time

USERNAME, PASSWORD = "first", "fluted-knob-28"
MOST_ANSWERS, MOST_CLICKS = 40, 30


def main():
    parser = argparse.ArgumentParser(
        prog="python -m tests.benchmarks.bench_first_day", description=__doc__.split("\n")[0]
    )
    parser.add_argument("--machines", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--width", type=int, default=1280, help="of the window, px: 1280 or 768")
    parser.add_argument("--shots", help="folder for pictures of each page")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="bobbin-first-day-") as folder, contextlib.ExitStack() as stack:
        os.environ.pop("DATABASE_URL", None)
        os.environ |= {"DATA_DIR": folder, "DJANGO_ALLOW_ASYNC_UNSAFE": "true"}
        address = serve(stack, folder)
        walk, seconds = day(address, options)
        return report(walk, seconds, options)


def serve(stack, folder):
    """Serve an installation that holds one person and nothing else; return its address."""
    from tests.services.bobbin import manage, web_server

    for command in ("migrate", "collectstatic"):
        manage(command, "--noinput", "--verbosity=0", DATA_DIR=folder)
    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    django.setup()
    from django.contrib.auth.models import Group

    from fleet.models import Person

    person = Person.objects.create_user(USERNAME, password=PASSWORD, first_name="Una", last_name="First")
    person.groups.set(Group.objects.filter(name__in=("planner", "planner-in-chief", "technician")))
    return stack.enter_context(web_server(DATA_DIR=folder))


def day(address, options):
    """Walk the day in a browser. Return the walk and the seconds that the program took for it."""
    from playwright.sync_api import sync_playwright

    from tests.first_day_walk import Walk
    from tests.messy_register import messy_register
    from tests.services.browser import QUIET, log_in_by_form, watched_page
    from tests.services.programs import find_program

    with sync_playwright() as playwright:
        program = find_program("chromium", package="chromium")
        chromium = playwright.chromium.launch(executable_path=program, args=QUIET)
        with watched_page(chromium, address) as page:
            page.set_viewport_size({"width": options.width, "height": 1024})
            log_in_by_form(page, USERNAME, PASSWORD)
            walk, start = Walk(page, PASSWORD, shots=options.shots), time.perf_counter()
            walk.do(messy_register(options.machines, options.seed))
            seconds = time.perf_counter() - start
        chromium.close()
    return walk, seconds


def report(walk, seconds, options):
    """Print the counts; return 1 where a goal is missed."""
    from fleet.models import Machine, WaitingRow
    from inspections.models import Inspection

    entered, waiting = Machine.objects.count(), WaitingRow.objects.count()
    opened = Inspection.objects.in_progress().count()
    for number, what in enumerate(walk.log, start=1):
        print(f"{number:4d}  {what}")
    print(f"\n{options.machines} machines in the file: {entered} in the register, {waiting} rows wait")
    print(f"answers       {walk.answers:4d}   goal {MOST_ANSWERS} at most")
    print(f"clicks        {walk.clicks:4d}   goal {MOST_CLICKS} at most")
    print(f"inspections opened {opened}; the program and the browser took {seconds:.0f} s")
    missed = walk.answers > MOST_ANSWERS or walk.clicks > MOST_CLICKS or not opened or waiting
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
