"""The work of a technician as requests: plan, open, enter readings, leave a step untested, sign.

Works on the short procedure of tests/inspections/scenes.py. The ledger records an acknowledgement when the
answer has been read.
"""

import re
import threading
import time
from collections import Counter
from dataclasses import dataclass, field

from tests.inspections.scenes import PASSING
from tests.services.programs import PATIENCE_S
from tests.services.visitor import FAILURES, Visitor, hidden_value


@dataclass(frozen=True, slots=True)
class Place:
    """The slot of one reading: index of the step among those of the inspection, slot, unit, instrument."""

    step: int
    slot: str
    unit: str
    instrument: str = ""


@dataclass(frozen=True, slots=True)
class Entered:
    """One reading that was acknowledged."""

    step: int
    slot: str
    as_read: str
    unit: str
    person: int


@dataclass
class Ledger:
    """What the server acknowledged, and how often it gave no answer; shared by all technicians."""

    readings: list[Entered] = field(default_factory=list)
    photographs: list[tuple[int, str]] = field(default_factory=list)  # key of the step and caption
    asked_again: int = 0  # photographs that arrived while others were read
    signed: list[int] = field(default_factory=list)
    unanswered: Counter = field(default_factory=Counter)
    troubles: list[str] = field(default_factory=list)
    seconds: dict[str, list[float]] = field(default_factory=dict)
    longest_wait: float = 0.0  # s, from the first request to its answer, with all that were sent again between
    lock: threading.Lock = field(default_factory=threading.Lock)

    def took(self, kind, seconds, waited):
        with self.lock:
            self.seconds.setdefault(kind, []).append(seconds)
            self.longest_wait = max(self.longest_wait, waited)


class Technician:
    """One person at one machine. `work()` does one inspection from plan to signature; `pause()` after each reading.

    photograph  bytes of the photograph that is taken at two steps, each with a remark; nothing of both if it is empty
    """

    def __init__(self, address, who, ledger, *, pause=lambda: None, photograph=b""):
        self.visitor = Visitor(address)
        self.who, self.ledger, self.pause, self.photograph = who, ledger, pause, photograph
        self.kept, self.count = {}, 0

    def log_in(self):
        self._insist("login page", lambda: self.visitor.get("/login/"))
        data = {"username": self.who["username"], "password": self.who["password"]}
        answer = self._insist("sign in", lambda: self.visitor.post("/login/", data))
        self._expect(answer.status == 302, "sign in", answer)

    def work(self):
        inspection = self._plan()
        steps = self._open(inspection)
        for place, text in self._sheet():
            self.enter(steps[place.step], place, text)
            self.pause()
        for step in steps[:2] if self.photograph else ():
            self.note(step)
            self.pause()
        self._leave_untested(steps[2])
        self._sign(inspection)

    def note(self, step):
        """Write a remark and take a photograph, repeatedly until both are acknowledged."""
        words = self._unlike(f"Worn hose {self.who['pk']}-")
        path = f"/inspections/steps/{step}/"
        answer = self._insist("remark", lambda: self.visitor.post(f"{path}remark/", {"remark": words}, htmx=True))
        self._expect(answer.headers.get("Bench-Answer") == "kept", "remark", answer)
        send = {"name": "photograph", "caption": words, "htmx": True}
        answer = self._insist(
            "photograph", lambda: self.visitor.send_file(f"{path}photographs/", self.photograph, **send)
        )
        self._expect(answer.headers.get("Bench-Answer") == "kept", "photograph", answer)
        with self.ledger.lock:
            self.ledger.photographs.append((step, words))

    def enter(self, step, place, text):
        """Enter one reading, repeatedly until it is acknowledged."""
        slot = place.slot
        data = {"slot": slot, slot: text, f"{slot}:unit": place.unit, f"{slot}:kept": self.kept.get((step, slot), "")}
        data |= {f"{slot}:instrument": place.instrument} if place.instrument else {}
        path = f"/inspections/steps/{step}/reading/"
        answer = self._insist("reading", lambda: self.visitor.post(path, data, htmx=True))
        self._expect(answer.headers.get("Bench-Answer") == "kept", f"reading {text} in {slot}", answer)
        self.kept[step, slot] = answer.headers["Bench-Seen"]
        with self.ledger.lock:
            self.ledger.readings.append(Entered(step, slot, text, place.unit, self.who["pk"]))

    def _sheet(self):
        """Return every reading that the signature needs, each with a unique value, and one corrected."""
        gauge, flowmeter = self.who["gauge"], self.who["flowmeter"]
        yield Place(0, "full_pressure", "psi", gauge), self._unlike("50.0")
        yield Place(0, "set_flow", "L/min", flowmeter), self._unlike("4.0")
        yield Place(0, "set_flow", "L/min", flowmeter), self._unlike("4.0")
        for row, (pressure, flow) in enumerate(PASSING):
            yield Place(0, f"falling.{row}.pressure", "psi", gauge), self._unlike(pressure + ".0")
            yield Place(0, f"falling.{row}.flow", "L/min", flowmeter), self._unlike(flow)
        yield Place(1, "seen", "yes/no"), "yes"

    def _unlike(self, text):
        """Return the value with further digits after the hundredths that no other reading of this person has."""
        self.count += 1
        return f"{text}0{self.count:06}"

    def _plan(self):
        data = {"procedure": self.who["procedure"], "due_on": self.who["due_on"]}
        path = f"/machines/{self.who['machine']}/plan/"
        answer = self._insist("plan", lambda: self.visitor.post(path, data))
        self._expect(answer.status == 302, "plan", answer)
        return int(re.search(r"/inspections/(\d+)/", answer.location)[1])

    def _open(self, inspection):
        data = {"temperature_c": "20", "ambient_kpa_abs": "101.3"}
        self._insist("open", lambda: self.visitor.post(f"/inspections/{inspection}/open/", data))
        answer = self._insist("bench", lambda: self.visitor.get(f"/inspections/{inspection}/bench/"))
        self._expect(answer.status == 302, "bench", answer)
        page = self._insist("bench page", lambda: self.visitor.get(answer.location))
        found = re.findall(rf'href="/inspections/{inspection}/bench/(\d+)/"', page.text)
        steps = list(dict.fromkeys(int(pk) for pk in found))
        self._expect(len(steps) >= 3, "steps of the bench page", page)
        return steps[:3]

    def _leave_untested(self, step):
        path, data = f"/inspections/steps/{step}/not-tested/", {"reason": "No flowmeter of that range today."}
        answer = self._insist("not tested", lambda: self.visitor.post(path, data))
        self._expect(answer.status == 302, "not tested", answer)

    def _sign(self, inspection):
        """Sign. Sent again after a lost answer, the request is redirected to the signed inspection as well."""
        path = f"/inspections/{inspection}/sign/"
        page = self._insist("page of the signature", lambda: self.visitor.get(path))
        data = {"password": self.who["password"], "shown": hidden_value(page.text, "shown")}
        answer = self._insist("sign", lambda: self.visitor.post(path, data))
        self._expect(answer.status == 302, "sign", answer)
        with self.ledger.lock:
            self.ledger.signed.append(inspection)

    def _insist(self, kind, ask):
        """Repeat the request until the answer is no server error. Raise TimeoutError after PATIENCE_S."""
        begun = time.perf_counter()
        end = time.monotonic() + PATIENCE_S
        while True:
            start = time.perf_counter()
            try:
                answer = ask()
                if answer.status < 500:
                    now = time.perf_counter()
                    self.ledger.took(kind, now - start, now - begun)
                    return answer
                if self._is_asked_again(answer):
                    continue
                why = f"status {answer.status}"
            except FAILURES as error:
                why = type(error).__name__
            with self.ledger.lock:
                self.ledger.unanswered[why] += 1
            if time.monotonic() > end:
                raise TimeoutError(f"{kind}: no answer within {PATIENCE_S} s")
            time.sleep(0.2)

    def _is_asked_again(self, answer):
        """Whether a busy server asks for a photograph again; waits as long as it says."""
        if answer.status != 503 or "Other photographs are being read" not in answer.text:
            return False
        with self.ledger.lock:
            self.ledger.asked_again += 1
        time.sleep(int(answer.headers["Retry-After"]))
        return True

    def _expect(self, is_so, what, answer):
        if not is_so:
            told = " ".join(re.sub(r"<[^>]+>", " ", answer.text).split())[-600:]
            raise AssertionError(f"{self.who['username']}, {what}: {answer.status} {answer.location} {told}")
