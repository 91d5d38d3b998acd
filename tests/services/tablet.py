"""A tablet at the bench: a browser with its own profile on disk, which can be killed and started again."""

import contextlib
import hashlib
import io
import os
import signal
import time
from dataclasses import dataclass
from pathlib import Path

from PIL import Image
from playwright.sync_api import Error, TimeoutError

from tests.services.browser import PATIENCE_MS, QUIET, TABLET
from tests.services.programs import PATIENCE_S, find_program

ACKNOWLEDGED = ("kept", "waiting", "contested")
STATE = """id => { const kept = document.getElementById('kept-' + id); return kept ? kept.dataset.state : 'gone'; }"""
OUTBOX = """async () => { const found = await bobbinStore.read('outbox', (rows) => rows.getAll());
    return found.map((one) => ({ state: one.state, place: bobbinStore.placeOf(one), path: one.path,
      value: bobbinStore.fieldOf(one, bobbinStore.placeOf(one)) || '', person: one.person,
      remark: bobbinStore.fieldOf(one, 'remark') || '', caption: bobbinStore.fieldOf(one, 'caption') || '' })); }"""
REMARK, PHOTOGRAPH = "remark", "photograph"
REMARK_STATE = "document.querySelector('.remark-state .saved').dataset.state"
PHOTOGRAPH_STATE = """() => document.querySelector('[data-photographs][data-unsent]') ? 'sending'
    : document.querySelector('.step-notes .errors') ? 'refused' : 'kept'"""
WRONG_CLOCK = "(ms) => { const real = Date.now.bind(Date); const start = real(); Date.now = () => real() + ms; }"


@dataclass(frozen=True, slots=True)
class Typed:
    """One value that was typed. `step` and `place` as in its address and field."""

    tablet: str
    person: int
    step: int
    place: str
    text: str
    is_acknowledged: bool


class Tablet:
    """The page of one person at one inspection. Nothing here waits for the network."""

    def __init__(self, playwright, folder: Path, cable, who: dict, steps: list[tuple[int, str]], *, name: str):
        self.playwright, self.folder, self.cable = playwright, folder, cable
        self.who, self.steps, self.name = who, steps, name
        self.context = self.page = None
        self.step = 0

    def start(self) -> None:
        self.context = self.playwright.chromium.launch_persistent_context(
            str(self.folder),
            executable_path=find_program("chromium", package="chromium"),
            args=QUIET,
            base_url=self.cable.address,
            viewport=TABLET,
            locale="en-GB",
            timezone_id="UTC",
        )
        self.context.set_default_timeout(PATIENCE_MS)
        self.page = self.context.pages[0] if self.context.pages else self.context.new_page()
        self.page.on("dialog", _accept)

    def kill(self) -> None:
        """Kill every process of the browser at once, as when the battery is taken out."""
        for pid in _processes_of(self.folder):
            with contextlib.suppress(ProcessLookupError):
                os.kill(pid, signal.SIGKILL)
        with contextlib.suppress(Error):
            self.context.close()
        end = time.monotonic() + PATIENCE_S
        while _processes_of(self.folder) and time.monotonic() < end:
            time.sleep(0.05)

    def close(self) -> None:
        with contextlib.suppress(Error):
            self.context.close()

    def sign_in(self) -> None:
        """Open the bench with a network; sign in if the page asks."""
        path = self.steps[self.step][1]
        self.page.goto(f"/login/?next={path}")
        if self.page.locator("input[name=username]").count():
            self.page.get_by_label("Username").fill(self.who["username"])
            self.page.get_by_label("Password").fill(self.who["password"])
            self.page.get_by_role("button", name="Sign in").click()
        self.page.wait_for_url(f"**{path}")
        self.wait_until(lambda: self.page.evaluate("navigator.serviceWorker.controller !== null"), "the worker runs")

    def wait_until_stored(self) -> None:
        """Wait until every step of the inspection is on the device."""
        wanted = {path for _, path in self.steps}
        stored = "async (person) => (await bobbinStore.pagesOf(person)).map((page) => page.path)"
        self.wait_until(lambda: wanted <= set(self.page.evaluate(stored, self.person)), "every step is stored")

    def wait_until(self, is_so, what: str, seconds: float = PATIENCE_S) -> None:
        """Ask again and again until it is so: the content security policy forbids what playwright has for it."""
        end = time.monotonic() + seconds
        while not is_so():
            if time.monotonic() > end:
                raise TimeoutError(f"{self.name}, not within {seconds:.0f} s: {what}")
            time.sleep(0.1)

    @property
    def person(self) -> str:
        return self.page.locator("#device").get_attribute("data-person")

    def go_to(self, step: int) -> None:
        """Open a step by its address, as a link of the step strip does."""
        self.step = step
        self.page.goto(self.steps[step][1], wait_until="load")

    def new_tab(self) -> None:
        """Close the tab without a word and open the step in a new one."""
        fresh = self.context.new_page()
        fresh.on("dialog", _accept)
        self.page.close(run_before_unload=False)
        self.page = fresh
        self.go_to(self.step)

    def set_clock(self, ms: int) -> None:
        """Let the clock of the service worker be wrong; it is right again when the browser ends the worker."""
        for worker in self.context.service_workers:
            with contextlib.suppress(Error):
                worker.evaluate(WRONG_CLOCK, ms)

    def type(self, place: str, text: str, *, patience: float = 12.0) -> Typed:
        """Type a value and leave the field; wait until the page says that it is saved or on the device."""
        typed = {"tablet": self.name, "person": self.who["pk"], "step": self.steps[self.step][0], "place": place}
        box = self.page.locator(f'[name="{place}"]').last
        key = place.replace(".", "-")
        self.page.evaluate("id => { document.getElementById('kept-' + id).dataset.state = 'typed'; }", key)
        box.fill(text)
        box.press("Tab")
        end = time.monotonic() + patience
        while time.monotonic() < end:
            if self.page.evaluate(STATE, key) in ACKNOWLEDGED:
                return Typed(text=text, is_acknowledged=True, **typed)
            time.sleep(0.03)
        return Typed(text=text, is_acknowledged=False, **typed)

    def write_remark(self, text: str, *, patience: float = 12.0) -> Typed:
        """Write the remark of the step and leave the field; wait as with a value."""
        self.page.evaluate("document.querySelector('.remark-state .saved').dataset.state = 'typed'")
        box = self.page.locator("textarea[name=remark]")
        box.fill(text)
        box.press("Tab")
        return self._noted(REMARK, text, REMARK_STATE, patience)

    def take_photograph(self, caption: str, *, patience: float = 12.0) -> Typed:
        """Choose a picture of which there is no other, with its caption; wait until it is stored or on the device."""
        self.page.locator("[data-photographs] [name=caption]").fill(caption)
        file = {"name": "photograph.jpg", "mimeType": "image/jpeg", "buffer": _picture_of(caption)}
        self.page.locator("[data-photographs] input[type=file]").last.set_input_files(file)
        return self._noted(PHOTOGRAPH, caption, PHOTOGRAPH_STATE, patience)

    def _noted(self, place, text, state, patience):
        end, is_acknowledged = time.monotonic() + patience, False
        while not is_acknowledged and time.monotonic() < end:
            is_acknowledged = self.page.evaluate(state) in ACKNOWLEDGED
            time.sleep(0.03)
        return Typed(self.name, self.who["pk"], self.steps[self.step][0], place, text, is_acknowledged)

    def type_and_die(self, place: str, text: str) -> Typed:
        """Type a value and kill the browser at once, before anything is said about it."""
        typed = Typed(self.name, self.who["pk"], self.steps[self.step][0], place, text, False)
        box = self.page.locator(f'[name="{place}"]').last
        box.fill(text)
        with contextlib.suppress(Error):
            box.press("Tab", no_wait_after=True)
        self.kill()
        return typed

    def outbox(self) -> list[dict]:
        return self.page.evaluate(OUTBOX)

    def waiting(self) -> list[dict]:
        return [one for one in self.outbox() if one["state"] == "waiting"]

    def failed(self) -> list[dict]:
        return [one for one in self.outbox() if one["state"] == "failed"]

    def drain(self) -> None:
        """With a network again: wait until nothing waits."""

        def is_empty():
            self.page.evaluate("bobbinDevice.post({ kind: 'send' })")
            return not self.waiting()

        self.wait_until(is_empty, "everything is sent")


def _picture_of(text):
    """A small JPEG whose colours follow from a text."""
    picture = Image.frombytes("RGB", (16, 16), hashlib.shake_128(text.encode()).digest(16 * 16 * 3))
    file = io.BytesIO()
    picture.resize((320, 320)).save(file, "JPEG", quality=90)
    return file.getvalue()


def _accept(dialog):
    with contextlib.suppress(Error):
        dialog.accept()


def _processes_of(folder: Path) -> list[int]:
    """Return the processes of the browser whose profile is in `folder`."""
    wanted, found = f"--user-data-dir={folder}".encode(), []
    for path in Path("/proc").glob("[0-9]*/cmdline"):
        with contextlib.suppress(OSError):
            if wanted in path.read_bytes().split(b"\0"):
                found.append(int(path.parent.name))
    return found
