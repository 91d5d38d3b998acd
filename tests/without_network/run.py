"""One run: tablets take readings, remarks and photographs while one thing after another fails; then each is sought."""

import random
import sqlite3
import time
from collections import Counter

from playwright.sync_api import Error

from tests.services.cable import CUT, DEAF, THROUGH
from tests.services.programs import PATIENCE_S

SETTLED_EVERY = 20
EVENTS = (
    ["cut", "deaf", "offline", "restored", "restored", "step", "step", "tab closed", "server killed", "clock wrong"]
    + ["browser killed", "browser killed while typing"]
)  # fmt: skip
NOTES = {"remark": 0.12, "photograph": 0.08}  # share of what is typed; the rest are readings
MOST_PHOTOGRAPHS = 12  # that one step takes
REMARKS = "SELECT text FROM inspections_stepremark UNION ALL SELECT before FROM fleet_changeentry"
CAPTIONS = "SELECT caption FROM inspections_photograph"
STORED = 'SELECT step_id, field, "row", "column", as_read, entered_by_id, id FROM inspections_reading ORDER BY id'


class Run:
    """`rounds` events on the tablets, in an order that depends on `seed`."""

    def __init__(self, tablets, server, database, *, rounds, seed, say=print):
        self.tablets, self.server, self.database, self.say = tablets, server, database, say
        self.rounds, self.rng = rounds, random.Random(seed)
        self.typed, self.events, self.troubles, self.number = [], Counter(), [], 0
        self.left, self.left_before = [], []
        self.started = time.monotonic()

    def go(self):
        for number in range(1, self.rounds + 1):
            tablet = self.rng.choice(self.tablets)
            event = self.rng.choice(EVENTS)
            self.events[event] += 1
            self._happen(tablet, event)
            for _ in range(self.rng.randint(1, 3)):
                self._type(tablet)
            if number % SETTLED_EVERY == 0 or number == self.rounds:
                self.settle()
                self.say(f"round {number}: {len(self.typed)} values typed, {len(self.troubles)} troubles")
            if self.troubles:
                break
        return self.troubles

    def replace(self, tablets):
        """Go on with other tablets; what could not be sent stays on those before."""
        self.tablets, self.left_before = tablets, self.left

    def settle(self):
        """Let everything work again, wait until nothing waits, and look for every value that was typed."""
        if not self.server.is_ready():
            self.server.wait()
        for tablet in self.tablets:
            self._connect(tablet)
            tablet.sign_in()
            tablet.drain()
        left = [*self.left_before, *(one for tablet in self.tablets for one in tablet.failed())]
        failed = [(one["place"], one["value"]) for one in left]
        noted = [one[key] for one in left for key in ("remark", "caption") if one[key]]
        readings = [one for one in self.typed if one.place not in NOTES]
        self.troubles += troubles(readings, rows_of(self.database), failed)
        self.troubles += troubles_of_notes(
            [one for one in self.typed if one.place in NOTES], texts_of(self.database, REMARKS),
            texts_of(self.database, CAPTIONS), noted,
        )  # fmt: skip
        self.left = left

    def _connect(self, tablet):
        tablet.cable.set(THROUGH)
        tablet.context.set_offline(False)

    def _happen(self, tablet, event):
        if event in ("cut", "deaf"):
            tablet.cable.set(CUT if event == "cut" else DEAF)
        elif event == "offline":
            tablet.context.set_offline(True)
        elif event == "restored":
            self._connect(tablet)
        elif event == "step":
            tablet.go_to(self.rng.randrange(len(tablet.steps)))
        elif event == "tab closed":
            tablet.new_tab()
        elif event == "server killed":
            self.server.kill(_Whole())
            if self.rng.random() < 0.5:
                self.server.wait()
        elif event == "clock wrong":
            tablet.set_clock(self.rng.choice([-86_400_000, -3_600_000, 3_600_000, 31_536_000_000]))
        else:
            self._kill_browser(tablet, event)

    def _kill_browser(self, tablet, event):
        if event == "browser killed while typing" and (place := self._place(tablet)):
            self.typed.append(tablet.type_and_die(place, self._text()))
        else:
            tablet.kill()
        tablet.start()
        tablet.go_to(tablet.step)  # from the device if there is no network
        if tablet.page.locator("input[name=username]").count():  # the browser had not yet stored its cookie
            tablet.sign_in()

    def _place(self, tablet):
        names = tablet.page.evaluate(
            "() => [...document.querySelectorAll('[data-place] input[inputmode=decimal]')]"
            ".filter((one) => one.checkVisibility()).map((one) => one.name)"
        )
        return self.rng.choice(names) if names else None

    def _text(self):
        """Every value is typed once, so that it can be found again."""
        self.number += 1
        return f"{10 + self.number // 100}.{self.number % 100:02d}1"

    def _type(self, tablet):
        try:
            if note := self._note(tablet):
                self.typed.append(note)
            elif place := self._place(tablet):
                self.typed.append(tablet.type(place, self._text()))
        except Error as error:
            self.troubles.append(f"{tablet.name}: {error.message[:300]}")

    def _note(self, tablet):
        """Write a remark or take a photograph now and then; None for what shall be a reading."""
        chance, step = self.rng.random(), tablet.steps[tablet.step][0]
        if not tablet.page.locator("textarea[name=remark]").count():
            return None
        if chance < NOTES["remark"]:
            return tablet.write_remark(f"Remark {self._text()} of {tablet.name}.")
        taken = sum(one.place == "photograph" and one.step == step for one in self.typed)
        if chance < sum(NOTES.values()) and taken < MOST_PHOTOGRAPHS:
            return tablet.take_photograph(f"Photograph {self._text()}")
        return None

    def summary(self):
        known, notes = (sum(one.is_acknowledged for one in self.typed), Counter(one.place for one in self.typed))
        events = ", ".join(f"{name} {count}" for name, count in self.events.most_common())
        return [
            f"{sum(self.events.values())} rounds in {time.monotonic() - self.started:.0f} s: {events}",
            f"{len(self.typed)} values typed, {known} of them acknowledged before anything failed",
            f"among them {notes['remark']} remarks and {notes['photograph']} photographs",
            f"{len(rows_of(self.database))} readings stored, {len(self.left)} left on a device as not to be sent",
            f"lost or doubled: {len(self.troubles) or 'none'}",
            *self.troubles[:20],
        ]


class _Whole:
    """Kills a service with all its processes."""

    def random(self):
        return 1.0


def rows_of(database):
    """Return every stored reading as (step, place, text, person), in the order stored."""
    with sqlite3.connect(f"file:{database}?mode=ro", uri=True, timeout=PATIENCE_S) as connection:
        rows = connection.execute(STORED).fetchall()
    return [
        (step, f"{field}.{row}.{column}" if column else field, text, person)
        for step, field, row, column, text, person, _ in rows
    ]


def troubles(typed, rows, failed):
    """Return a sentence for each value that is lost, stored twice, or stored before one typed earlier on its tablet.

    A value about which the page had said nothing yet when the browser was killed may be lost, and may come late.
    """
    count, on_device = Counter(rows), Counter(failed)
    said = []
    for one in typed:
        row = (one.step, one.place, one.text, one.person)
        if count[row] > 1:
            said.append(f"stored {count[row]} times: {one}")
        if one.is_acknowledged and not count[row] and not on_device[one.place, one.text]:
            said.append(f"lost: {one}")
    order = {row: number for number, row in enumerate(rows)}
    last = {}
    for one in typed:
        number = order.get((one.step, one.place, one.text, one.person))
        if number is None or not one.is_acknowledged:
            continue
        if number < last.get(one.tablet, -1):
            said.append(f"stored before an earlier one: {one}")
        last[one.tablet] = max(number, last.get(one.tablet, -1))
    return said


def texts_of(database, query):
    with sqlite3.connect(f"file:{database}?mode=ro", uri=True, timeout=PATIENCE_S) as connection:
        return [text for (text,) in connection.execute(query)]


def troubles_of_notes(noted, remarks, captions, failed):
    """Return a sentence for each remark or photograph that is lost, and for each photograph that is there twice.

    remarks  what is stored, and what the changes of the inspections say of it: a remark replaces the one before
    failed   what stayed on a device as not to be sent
    """
    said = []
    for one in noted:
        count = captions.count(one.text) if one.place == "photograph" else sum(one.text in text for text in remarks)
        if one.place == "photograph" and count > 1:
            said.append(f"stored {count} times: {one}")
        if one.is_acknowledged and not count and one.text not in failed:
            said.append(f"lost: {one}")
    return said
