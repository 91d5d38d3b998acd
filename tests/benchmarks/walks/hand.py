"""What a person presses, fills and waits for on a page, counted, and set against a goal: by mouse or by keyboard."""

import contextlib
import re
import time
from pathlib import Path

from playwright.sync_api import TimeoutError

MOST_TABS = 400
NEXT_PAGE_MS = 5000  # until the next page begins; a file has none
SHOWS_FOCUS = """e => {
    const style = getComputedStyle(e);
    return style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2 || style.boxShadow !== "none";
}"""


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
        self._press(self.page.get_by_role(role, name=name, **which).first)
        self.page.wait_for_load_state()

    def _press(self, target):
        target.click()

    def choose(self, label, value):
        self.fields += 1
        field = self.page.get_by_label(re.compile(rf"^{re.escape(label)}( \(optional\))?$")).first
        self._choose(field, value, field.evaluate("e => e.tagName === 'SELECT' ? 'select' : e.type"))

    def _choose(self, field, value, kind):
        field.select_option(label=value) if kind == "select" else field.fill(value)

    def fetch(self, role, name):
        """Press what answers with a file; return its name and size in bytes."""
        self._shoot()
        self.clicks += 1
        target = self.page.get_by_role(role, name=name).first
        with self.page.expect_download() as waiting:
            target.evaluate("link => link.setAttribute('download', '')")  # a PDF would open in the browser
            self._press(target)
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

    def effort(self):
        return f"{self.clicks} clicks, {self.fields} fields filled"

    def report(self, what, *, goal, is_done, seconds=None):
        """Print the counts; return 1 where a goal is missed or the walk did not do what it was meant to."""
        slow = seconds is not None and self.seconds > seconds
        within = f" in {seconds} s" if seconds else ""
        print(
            f"{what}: {self.effort()}, {self.seconds:.1f} s "
            f"(goal: {goal} clicks at most{within}); {'done' if is_done else 'NOT done as meant'}"
        )
        return int(self.clicks > goal or slow or not is_done)


class Keyboard(Hand):
    """A person without a mouse: everything is reached with Tab, pressed with Enter and typed. Keys are counted.

    Raise LookupError where a target is not reached within MOST_TABS, or does not show that it has the focus.
    """

    def __init__(self, page, shots=""):
        super().__init__(page, shots)
        self.keys = 0

    def effort(self):
        return f"{self.clicks} presses, {self.fields} fields filled, {self.keys} keys in all"

    def _key(self, name):
        self.keys += 1
        self.page.keyboard.press(name)

    def _press(self, target):
        self._reach(target)
        with contextlib.suppress(TimeoutError), self.page.expect_event("framenavigated", timeout=NEXT_PAGE_MS):
            self._key("Enter")

    def _choose(self, field, value, kind):
        self._reach(field)
        if kind == "date":
            year, month, day = value.split("-")
            value = f"{month}{day}{year}"  # the order of Chromium's own field
        else:
            self._key("Control+A") if kind != "select" else None
        self.keys += len(value)
        self.page.keyboard.type(value)

    def _reach(self, target):
        target.wait_for()
        for _ in range(MOST_TABS):
            if target.evaluate("e => e === document.activeElement"):
                return self._see(target)
            self._key("Tab")
        raise LookupError(f"{target} is not reached with {MOST_TABS} presses of Tab on {self.page.url}")

    def _see(self, target):
        if not target.evaluate(SHOWS_FOCUS):
            raise LookupError(f"{target} does not show that it has the focus on {self.page.url}")


def hand_of(page, options, name):
    """The person of a walk, with pictures of each page under this name where a folder for them is given."""
    return (Keyboard if options.keyboard else Hand)(page, options.shots and f"{options.shots}/{name}")


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
