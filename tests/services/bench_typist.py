"""A technician who types a bench page blindly: looks at the page once, then enters what was read without looking up.

`meant` is what was read: key of the step to place (field, row, column) to the text. Keys and taps are counted.
"""

import re
from dataclasses import dataclass, field

from inspections.at_bench.field_names import read_place_name

LOOK = """() => {
  const shown = (element) => element.checkVisibility({ visibilityProperty: true });
  const stops = [...document.querySelectorAll("[data-bench] input[inputmode=decimal], [data-bench] [role=radiogroup]")];
  return stops.filter(shown).map((stop) => {
    const input = stop.matches("input") ? stop : stop.querySelector("input");
    const checked = stop.matches("input") ? null : stop.querySelector("input:checked");
    return {
      name: input.name, kind: stop.matches("input") ? "number" : stop.closest("[data-choice]") ? "choice" : "question",
      value: checked ? checked.value : input.value,
      options: stop.matches("input") ? [] : [...stop.querySelectorAll("input")].map((one) => one.value),
      table: (stop.closest("[data-table]") || { dataset: {} }).dataset.table || "",
    };
  });
}"""
FOLDED = """() => [...document.querySelectorAll(
  "[data-bench] details.recorded:not([open]) [data-choice] input:checked")].map(
  (input) => [input.name, input.value])"""
HERE = re.compile(r"/bench/(\d+)/$")
OF_STEP = re.compile(r"s(\d+)\.(.+)$")


@dataclass(frozen=True, slots=True)
class Stop:
    """A field or group of options as the page shows it, and what is meant for it."""

    name: str
    kind: str
    value: str
    options: tuple
    table: str
    text: str

    @property
    def is_done(self):
        return not self.text or self.text == self.value


@dataclass
class Counts:
    """Keys that were pressed: `characters` of readings among them; taps on the page, `answers` among them."""

    keys: int = 0
    characters: int = 0
    answers: int = 0
    taps: int = 0
    pages: int = 0

    @property
    def beside(self):
        """Keys that are no part of a reading: neither a digit of it nor the Y or N that answers."""
        return self.keys - self.characters - self.answers


@dataclass
class Typist:
    """Does every page of an inspection at the bench. `pause_ms` lies between two keys."""

    page: object
    meant: dict
    pause_ms: int = 15
    taps_only: bool = False
    counts: Counts = field(default_factory=Counts)

    def work(self):
        """Do page after page until the page of the signature."""
        while self.do_page():
            pass

    def do_page(self):
        """Enter what is meant on this page and go on. Return whether another bench page follows."""
        address = self.page.url
        self.page.wait_for_selector("[data-bench].scripted")
        self.counts.pages += 1
        stops = self._unfold() if self._has_folded() else self.look()
        self.enter(stops)
        self.page.wait_for_url(lambda url: url != address)
        return bool(HERE.search(self.page.url))

    def _has_folded(self):
        """Whether something else is meant for a choice that is folded away."""
        step = int(HERE.search(self.page.url)[1])
        folded = self.page.evaluate(FOLDED)
        return any(self.meant[step].get(read_place_name(name), value) != value for name, value in folded)

    def _unfold(self):
        """Open what is folded and choose in it, then look again: the focus is at the first field."""
        if self.taps_only:
            self.tap("details.recorded > summary")
            return self.look()
        for key in ("Shift+Tab", "Enter", "Tab"):
            self.press(key)
        self._choose_from(0)
        return [stop for stop in self.look() if stop.kind != "choice"]

    def _choose_from(self, at):
        """Choose what is meant from the choice at `at` on, which has the focus; one choice can take others away."""
        while at < len(choices := [stop for stop in self.look() if stop.kind == "choice"]):
            if not choices[at].is_done:
                self.press(str(choices[at].options.index(choices[at].text) + 1))
            self.press("Enter")
            at += 1

    def look(self):
        step = int(HERE.search(self.page.url)[1])
        return [self._stop(step, found) for found in self.page.evaluate(LOOK)]

    def _stop(self, step, found):
        several = OF_STEP.match(found["name"])
        pk, name = (int(several[1]), several[2]) if several else (step, found["name"])
        text = self.meant[pk].get(read_place_name(name), "")
        return Stop(found["name"], found["kind"], found["value"], tuple(found["options"]), found["table"], text)

    def enter(self, stops):
        """Type the page. The focus begins at the first field; choices before it are reached backwards."""
        choices = [stop for stop in stops if stop.kind == "choice"]
        self._choose(choices)
        fields = [stop for stop in self.look() if stop.kind != "choice"]  # a choice can change which
        last = max((at for at, stop in enumerate(fields) if stop.text), default=-1)
        if self.taps_only:
            self._tap_through(fields[: last + 1])
        else:
            self._type_through(fields, last)

    def _choose(self, choices):
        changed = [stop for stop in choices if not stop.is_done]
        if self.taps_only:
            for stop in changed:
                self.tap(f"input[name='{stop.name}'][value='{stop.text}']")
            if changed:
                self.tap("[data-bench] input[inputmode=decimal] >> visible=true")
            return
        if not changed:
            return
        first = choices.index(changed[0])
        for _ in choices[first:]:
            self.press("Shift+Tab")
        self._choose_from(first)

    def _type_through(self, fields, last):
        for at, stop in enumerate(fields[: last + 1]):
            if stop.kind == "question":
                self.press({"yes": "y", "no": "n"}[stop.text] if stop.text else "Enter", is_answer=bool(stop.text))
                continue
            later = fields[at + 1 :]
            if stop.table and not stop.text and self._is_left(stop, fields[at:]):
                continue
            self.write(stop.text)
            ends = stop.table and self._is_left(stop, later)
            self.press("PageDown" if ends else "Enter")
        after_all = all(stop.table for stop in fields[last + 1 :])
        self.press("Enter" if after_all else "Alt+n")

    @staticmethod
    def _is_left(stop, later):
        """Whether nothing more is meant for the table of a stop."""
        return not any(one.text for one in later if one.table == stop.table)

    def _tap_through(self, fields):
        at = 0
        for stop in fields:
            if not stop.text:
                continue
            if stop.kind == "question":
                self.tap(f"label:has(input[name='{stop.name}'][value='{stop.text}'])")
                continue
            if self.page.evaluate("document.activeElement.name") != stop.name:
                self.tap(f"input[name='{stop.name}']")
            self.page.keyboard.type(stop.text)
            self.page.keyboard.press("Enter")  # the “next” of the keyboard on the screen
            at += 1
        self.tap("[data-go=next]")

    def tap(self, selector):
        self.counts.taps += 1
        self.page.locator(selector).first.tap()

    def write(self, text):
        for character in text:
            self.press(character, is_reading=True)

    def press(self, key, *, is_reading=False, is_answer=False):
        """Press a key; one with Alt or Shift counts as two."""
        self.counts.keys += 1 + key.count("+") if len(key) > 1 else 1
        self.counts.characters += is_reading
        self.counts.answers += is_answer
        self.page.keyboard.press(key)
        self.page.wait_for_timeout(self.pause_ms)


def wrong_places(meant, stored):
    """Return what is stored otherwise than meant; both map steps to places to texts. 4.0 is 4."""
    wrong = []
    for step in {**meant, **stored}:
        given, found = meant.get(step, {}), stored.get(step, {})
        for place in {**given, **found}:
            if not _is_same(given.get(place), found.get(place)):
                wrong.append((step, place, given.get(place), found.get(place)))
    return wrong


def _is_same(meant, found):
    if meant == found:
        return True
    try:
        return float(meant) == float(found)
    except (TypeError, ValueError):
        return False
