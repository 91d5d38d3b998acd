"""What a person presses, fills and waits for on a page, counted, and set against a goal."""

import contextlib
import re
import time
from pathlib import Path


class Hand:
    """A person at a page from Home on. Presses of links and buttons are clicks; a field filled or ticked is a field."""

    def __init__(self, page, shots=""):
        self.page, self.shots = page, shots
        self.clicks = self.fields = 0
        self.start = time.perf_counter()
        page.goto("/")

    @property
    def seconds(self):
        return time.perf_counter() - self.start

    def press(self, role, name, **which):
        self._shoot()
        self.clicks += 1
        self.page.get_by_role(role, name=name, **which).first.click()
        self.page.wait_for_load_state()

    def choose(self, label, value):
        self.fields += 1
        field = self.page.get_by_label(re.compile(rf"^{re.escape(label)}( \(optional\))?$")).first
        field.select_option(label=value) if field.evaluate("e => e.tagName") == "SELECT" else field.fill(value)

    def tick(self, label):
        self.fields += 1
        self.page.get_by_label(label, exact=True).check()

    def fetch(self, role, name):
        """Press what answers with a file; return its name and size in bytes."""
        self._shoot()
        self.clicks += 1
        target = self.page.get_by_role(role, name=name).first
        with self.page.expect_download() as waiting:
            target.evaluate("link => link.setAttribute('download', '')")  # a PDF would open in the browser
            target.click()
        return waiting.value.suggested_filename, Path(waiting.value.path()).stat().st_size

    def wait_for_job(self):
        """Do the waiting jobs here, as the scheduler of an installation does, and look again."""
        from django.utils import timezone

        from fleet.jobs.running import run_waiting_jobs

        run_waiting_jobs(clock=timezone.now, pulse=False)
        self.page.reload()

    def _shoot(self):
        if self.shots:
            self.page.screenshot(path=f"{self.shots}-{self.clicks:02d}.png", full_page=True)

    def report(self, what, *, goal, is_done, seconds=None):
        """Print the counts; return 1 where a goal is missed or the walk did not do what it was meant to."""
        slow = seconds is not None and self.seconds > seconds
        within = f" in {seconds} s" if seconds else ""
        print(
            f"{what}: {self.clicks} clicks, {self.fields} fields filled, {self.seconds:.1f} s "
            f"(goal: {goal} clicks at most{within}); {'done' if is_done else 'NOT done as meant'}"
        )
        return int(self.clicks > goal or slow or not is_done)


@contextlib.contextmanager
def page_of(address, username, width=None):
    """A page at which the person is signed in."""
    from playwright.sync_api import sync_playwright

    from tests.factories import PASSWORD
    from tests.services.browser import PATIENCE_MS, QUIET, TABLET, WIDE, log_in_by_form
    from tests.services.programs import find_program

    size = TABLET if width == TABLET["width"] else WIDE
    with sync_playwright() as playwright:
        chromium = playwright.chromium.launch(executable_path=find_program("chromium", package="chromium"), args=QUIET)
        context = chromium.new_context(base_url=address, viewport=size, locale="en-GB")
        context.set_default_timeout(PATIENCE_MS)
        page = context.new_page()
        log_in_by_form(page, username, PASSWORD)
        yield page
        chromium.close()
