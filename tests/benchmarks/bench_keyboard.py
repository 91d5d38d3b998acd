"""Key presses and taps of whole yearly inspections of machines of the demonstration, in a real browser.

    python -m tests.benchmarks.bench_keyboard [--delay 400] [--signed]

Every answer of the server is late by `--delay` ms, and the technician types on without looking up. Printed are all key
presses and those that are no part of a reading, the taps of a run without keyboard, and the readings that are stored in
a wrong place, or not at all. Of the oldest, a middle and the newest machine the inspection is signed on its page, and
each step is looked at for words about what the machine does not have.
"""

import argparse
import contextlib
import os
import sys
import tempfile
import time
from datetime import timedelta

MACHINE = "OH-020"
MOST_BESIDE, MOST_TAPS = 1.5, 4  # keys beside each reading or answer, and taps on each page
WORDS = """() => {
  const shown = [...document.querySelectorAll(".step-words, .caution-line, .check-words, #step-form")];
  const parts = shown.map((part) => part.cloneNode(true));
  parts.forEach((part) => part.querySelectorAll("select").forEach((choice) => choice.remove()));  // instruments
  return parts.map((part) => part.textContent).join(" ");
}"""
SIGNED = {  # machine: what it does not have, as its model's description and components say
    "CH-019": (
        "ventilator",
        "PEEP",
        "selector",
        "between breaths",
        "battery",
        "mains voltage",
        "leakage current",
        "bellows",
    ),  # built in 1981
    "OH-019": ("carbon dioxide monitor", "capnograph"),  # built in 2007
    "OH-003": ("needle valve", "flow tube"),  # built in 2022
}


def main():
    parser = argparse.ArgumentParser(
        prog="python -m tests.benchmarks.bench_keyboard", description=__doc__.split("\n")[0]
    )
    parser.add_argument("--delay", type=float, default=400, help="how late each answer is, ms, default 400")
    parser.add_argument("--signed", action="store_true", help="only the inspections that are signed on their page")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="bobbin-keyboard-") as folder, contextlib.ExitStack() as stack:
        os.environ.pop("DATABASE_URL", None)
        os.environ |= {"DATA_DIR": folder, "DJANGO_ALLOW_ASYNC_UNSAFE": "true"}
        address = serve_filled(stack, folder, fill)
        signed = [sign_yearly(address, machine, words) for machine, words in SIGNED.items()]
        if options.signed:
            return max(signed)
        keyboard, tapped = (do(address, options.delay, taps_only=taps_only) for taps_only in (False, True))
    return max(report(options.delay, keyboard, tapped), *signed)


def serve_filled(stack, folder, fill):
    """Make a new installation, fill it by the function and serve it; return its address."""
    from tests.services.bobbin import manage, web_server

    for command in ("migrate", "collectstatic"):
        manage(command, "--noinput", "--verbosity=0", DATA_DIR=folder)
    import django

    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    django.setup()
    fill()
    return stack.enter_context(web_server(DATA_DIR=folder))


def fill():
    """The register of the demonstration, and last year's inspection of the machine."""
    from django.core.management import call_command
    from django.utils import timezone

    from config.demo.machine_circuits import fit_components
    from config.demo.scenario import REGISTER, create_scenario, read_scenario
    from inspections.actions import load_procedures
    from inspections.at_bench.procedure_files import DIRECTORY
    from tests.benchmarks.dial_readings import DialHistory, machine_of

    today = timezone.localdate()
    create_scenario(read_scenario(), today)
    with open(os.devnull, "w") as nothing:
        call_command("import_register", str(REGISTER), "--by", "planner", stdout=nothing)
    for machine in (MACHINE, *SIGNED):
        fit_components(machine_of(machine))
    load_procedures(DIRECTORY, at=timezone.now())
    history, then = DialHistory(today), today - timedelta(days=365)
    for machine in (MACHINE, *SIGNED):
        history.do(history.plan(machine_of(machine), then), then)


def do(address, delay, *, taps_only):
    """Do the inspection in a browser. Return the counts, the wrong places, the steps and the seconds it took."""
    from tests.services.bench_typist import Typist, wrong_places

    inspection, meant = begin(MACHINE)
    with page_of(address, delay, taps_only) as page:
        page.goto(f"{address}/inspections/{inspection.pk}/bench/")
        typist, start = Typist(page, meant, taps_only=taps_only), time.perf_counter()
        typist.work()
        seconds = time.perf_counter() - start
    entered = sum(map(len, meant.values()))
    return typist.counts, wrong_places(meant, stored_of(inspection)), (len(meant), entered), seconds


def begin(machine):
    """Start the yearly inspection of a machine. Return it, and what is meant for each step that can be tested.

    The technician has chosen all instruments of the site that may be used as the test set of the day.
    """
    from django.utils import timezone

    from inspections.actions import choose_test_set, open_inspection, set_not_tested
    from inspections.at_bench.instrument_choice import instruments_at
    from tests.benchmarks.dial_readings import DialHistory, machine_of

    history, today = DialHistory(timezone.localdate()), timezone.localdate()
    inspection = history.plan(machine_of(machine), today)
    technician, meant = history.people["technician"], {}
    site = inspection.machine.site
    day = site.date_of(timezone.now())
    usable = [choice for choice in instruments_at(site, day) if not choice.refusal]
    choose_test_set(usable, site=site, day=day, by=technician)
    open_inspection(inspection, by=technician, at=timezone.now())
    for step, readings in history.read(inspection, today).items():
        if readings is None:
            set_not_tested(step, reason="Nothing of the kind is fitted.", by=technician, at=timezone.now())
        meant[step.pk] = {(one["field"], one["row"], one["column"]): one["as_read"] for one in readings or ()}
    return inspection, meant


def sign_yearly(address, machine, absent):
    """Type the yearly inspection of a machine and sign it on its page. Return 1 where something is not as it should be.

    absent  words about what the machine does not have, which no page of a step may hold
    """
    from config.demo.scenario import read_scenario
    from tests.services.bench_typist import Typist, wrong_places

    inspection, meant = begin(machine)
    with page_of(address, 0, has_touch=False) as page:
        page.goto(f"{address}/inspections/{inspection.pk}/bench/")
        typist, named = Typist(page, meant, pause_ms=0), []
        while True:
            words = page.evaluate(WORDS).lower()
            named += [f"{page.title()}: {word}" for word in absent if word.lower() in words]
            if not typist.do_page():
                break
        page.wait_for_load_state()
        if not page.get_by_label("Your password").count():
            raise SystemExit(f"{machine}: {page.locator('main').inner_text()}")
        page.get_by_label("Your password").fill(read_scenario()["password"])
        page.get_by_role("button", name=f"Sign {inspection}").click()
        page.wait_for_url(f"**/inspections/{inspection.pk}/**")
    inspection.refresh_from_db()
    wrong = wrong_places(meant, stored_of(inspection))
    print(f"Yearly inspection of {machine}: {len(meant)} steps typed, {inspection.stage_word} in the browser; "
          f"{len(wrong)} readings in a wrong place, {len(named)} words about what it does not have")  # fmt: skip
    print(*(wrong + named)[:20], sep="\n", end="\n" if wrong + named else "")
    return int(bool(wrong or named) or not inspection.is_signed)


def stored_of(inspection):
    from inspections.models import Reading

    found = {}
    for reading in Reading.objects.current().filter(step__inspection=inspection):
        found.setdefault(reading.step_id, {})[reading.slot] = reading.as_read
    return found


@contextlib.contextmanager
def page_of(address, delay, has_touch):
    """A tablet's page on which the technician is signed in and every answer is late."""
    from playwright.sync_api import sync_playwright

    from config.demo.scenario import read_scenario
    from tests.services.browser import PATIENCE_MS, QUIET, TABLET, log_in_by_form
    from tests.services.programs import find_program

    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=find_program("chromium", package="chromium"), args=QUIET)
        context = chromium.new_context(base_url=address, viewport=TABLET, has_touch=has_touch, locale="en-GB")
        context.set_default_timeout(PATIENCE_MS)
        page = context.new_page()
        log_in_by_form(page, "technician", read_scenario()["password"])
        late = {"offline": False, "latency": delay, "downloadThroughput": -1, "uploadThroughput": -1}
        context.new_cdp_session(page).send("Network.emulateNetworkConditions", late)
        yield page
        chromium.close()


def report(delay, keyboard, tapped):
    keys, wrong, (steps, entered), seconds = keyboard
    taps, wrong_taps, _, tap_seconds = tapped
    beside, per_page = keys.beside / max(entered, 1), taps.taps / taps.pages
    print(f"Yearly inspection of {MACHINE}: {steps} steps on {keys.pages} pages, each answer {delay:g} ms late")
    print(f"by keyboard: {keys.keys} key presses in {seconds:.0f} s; of these {keys.characters} of readings,")
    print(f"  {keys.answers} answers with Y or N, {keys.beside} beside them: {beside:.2f} for each of "
          f"{entered} readings (goal: {MOST_BESIDE} at most)")  # fmt: skip
    print(f"by taps: {taps.taps} on the page in {tap_seconds:.0f} s, answers included: {per_page:.1f} on each page "
          f"(goal: {MOST_TAPS} at most);")  # fmt: skip
    print("  the digits and the “next” of the keyboard on the screen are not counted")
    print(f"readings in a wrong place, missing or changed: {len(wrong)} by keyboard, {len(wrong_taps)} by taps")
    print(*(wrong + wrong_taps)[:20], sep="\n", end="\n" if wrong + wrong_taps else "")
    return int(bool(wrong or wrong_taps) or beside > MOST_BESIDE or per_page > MOST_TAPS)


if __name__ == "__main__":
    sys.exit(main())
