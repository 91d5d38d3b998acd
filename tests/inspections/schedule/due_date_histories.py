"""Histories of planning, voiding, attempts and signatures, and what becomes of their due dates by brute force.

The computation here knows nothing of the database: it walks the inspections of one machine in plain loops.
"""

from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from fractions import Fraction

from hypothesis import strategies as st

from inspections.actions import book_inspection, plan_inspection, record_attempt, void_inspection
from inspections.models import Completion, Inspection

START = date(2026, 1, 5)


@dataclass(frozen=True)
class Planned:
    """One inspection as brute force sees it; a signature has its moment and whether it was complete."""

    number: int
    due: date
    opens: date
    closes: date
    planned_at: datetime
    state: str  # open, void, signed
    signed_at: datetime | None = None
    is_complete: bool = False

    def signed(self, at):
        """The same, signed and complete."""
        return replace(self, state="signed", signed_at=at, is_complete=True)

    @property
    def signed_on(self):
        return self.signed_at.date()


def answers(history, today):
    """Return what became of each due date that is past: (first inspection, answer)."""
    found = []
    for first in history:
        same = [one for one in history if one.due == first.due]
        if min(one.number for one in same) != first.number or first.closes >= today:
            continue
        found.append((first, _answer(first, same, history)))
    return found


def _answer(first, same, history):
    complete = sorted((one for one in history if one.is_complete), key=lambda one: (one.signed_at, one.number))
    own = [one for one in complete if one in same]
    others = [one for one in complete if one not in same]
    if own and own[0].signed_on <= first.closes:
        return "instead" if _missed_before(own[0], first, history, complete) else "on time"
    if any(first.opens <= one.signed_on <= first.closes for one in others):
        return "elsewhere"
    if own:
        return "late"
    states = {one.state for one in same}
    return "open" if "open" in states else "incomplete" if "signed" in states else "voided"


def _missed_before(done, first, history, complete):
    before = [one for one in complete if one.signed_at < done.signed_at]
    for other in history:
        is_past = other.due != first.due and other.closes < done.signed_on and other.planned_at < done.signed_at
        if is_past and not any(one.due == other.due or one.signed_on >= other.opens for one in before):
            return True
    return False


def share(history, today):
    """Return the on-time share as a fraction; None while nothing counts."""
    counted = [answer for _, answer in answers(history, today) if answer not in ("instead", "elsewhere")]
    return Fraction(counted.count("on time"), len(counted)) if counted else None


def never_above(after, before):
    return after is None or (before is None and after == 0) or (before is not None and after <= before)


def moment(day, hour=9):
    return datetime.combine(day, time(hour), tzinfo=UTC)


steps = st.lists(
    st.one_of(
        st.tuples(st.just("plan"), st.integers(0, 200)),
        st.tuples(st.just("plan the same due date"), st.integers(0, 9)),
        st.tuples(st.just("void"), st.integers(0, 9)),
        st.tuples(st.just("defer"), st.integers(0, 9)),
        st.tuples(st.just("attempt"), st.integers(0, 9)),
        st.tuples(st.just("book"), st.integers(0, 9)),
        st.tuples(st.just("sign"), st.integers(0, 9)),
        st.tuples(st.just("sign incomplete"), st.integers(0, 9)),
        st.tuples(st.just("wait"), st.integers(1, 60)),
    ),
    min_size=4,
    max_size=14,
)


class Department:
    """Does the steps with the real actions on one machine, day after day; a signature writes its rows directly."""

    def __init__(self, machine, procedure, planner, technician):
        self.machine, self.procedure = machine, procedure
        self.planner, self.technician = planner, technician
        self.day, self.hour = START, 0

    def do(self, step, number):
        """Do one step; return whether it was one that must not raise the figure."""
        self.hour = self.hour + 1 if self.hour < 22 else 22
        at = moment(self.day, self.hour)
        if step == "wait":
            self.day, self.hour = self.day + timedelta(days=number), 0
            return False
        if step == "plan":
            self._plan(self.day + timedelta(days=number), at)
            return True
        inspections = list(Inspection.objects.filter(machine=self.machine).order_by("pk"))
        if step == "plan the same due date":
            if inspections:
                self._plan(inspections[number % len(inspections)].due_on, at)
            return True
        open_ones = [one for one in inspections if one.is_open]
        if open_ones:
            self._do_to(step, open_ones[number % len(open_ones)], at)
        return not step.startswith("sign")

    def _plan(self, due_on, at):
        plan_inspection(self.machine, self.procedure, due_on=due_on, by=self.planner, at=at)

    def _do_to(self, step, inspection, at):
        by = {"by": self.planner, "at": at}
        if step == "void":
            void_inspection(inspection, reason="Away", **by)
        elif step == "book":
            book_inspection(inspection, technician=self.technician, booked_on=self.day, **by)
        elif step in ("defer", "attempt"):
            self._attempt(step, inspection, by)
        else:
            self._sign(inspection, at, is_complete=step == "sign")

    def _attempt(self, step, inspection, by):
        kind = "deferred" if step == "defer" else "in use"
        if inspection.attempts.filter(kind=kind, made_on=self.day).exists():
            return
        until = self.day + timedelta(days=30) if step == "defer" else None
        who = "Head nurse" if step == "defer" else ""
        record_attempt(inspection, kind=kind, reason="List full", decided_by=who, until=until, **by)

    def _sign(self, inspection, at, *, is_complete):
        Inspection.objects.filter(pk=inspection.pk).update(
            stage="signed", technician=self.technician, signed_by=self.technician, signed_at=at,
            version=self.procedure.current_version(),
        )  # fmt: skip
        Completion.objects.create(inspection=inspection, is_complete=is_complete, signed_on=self.day)

    def history(self):
        """The inspections as brute force takes them."""
        complete = dict(Completion.objects.values_list("inspection", "is_complete"))
        states = {"void": "void", "signed": "signed"}
        return [
            Planned(one.pk, one.due_on, one.opens_on, one.closes_on, one.planned_at, states.get(one.stage, "open"),
                    one.signed_at, complete.get(one.pk, False))
            for one in Inspection.objects.filter(machine=self.machine).order_by("pk")
        ]  # fmt: skip


@st.composite
def plain_histories(draw):
    """A history without a database: some inspections that were planned, and perhaps voided or signed, in order."""
    history, day = [], START
    for number in range(draw(st.integers(1, 6))):
        day += timedelta(days=draw(st.integers(0, 60)))
        due = day + timedelta(days=draw(st.integers(0, 90)))
        window = timedelta(days=draw(st.sampled_from((7, 14, 30))))
        one = Planned(number, due, due - window, due + window, moment(day), "open")
        fate = draw(st.sampled_from(("open", "void", "signed", "incomplete")))
        if fate in ("signed", "incomplete"):
            signed = moment(day + timedelta(days=draw(st.integers(0, 150))), 12)
            one = replace(one, state="signed", signed_at=signed, is_complete=fate == "signed")
        history.append(replace(one, state="void") if fate == "void" else one)
    return history
