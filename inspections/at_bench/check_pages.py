"""Checks that follow each other in a procedure, laid out on one page; each stays a step of its own in the record."""

from dataclasses import dataclass

from inspections.at_bench.field_names import names_of_step
from inspections.at_bench.laid_out import Contest, Place, Settings
from inspections.at_bench.slots import YES_NO, find_slot
from inspections.at_bench.step_content import caution_line, test_of
from inspections.models import InspectionStep, NotTestedMark, Reading

ANSWER = "seen"  # the reading of the observation test


@dataclass(slots=True)
class CheckPlace(Place):
    """The place of a check's answer, named so that no two of one page share a name."""

    step_pk: int = 0

    @property
    def names(self):
        return names_of_step(self.step_pk, self.slot.names)


@dataclass(frozen=True, slots=True)
class Check:
    """One check of a page: its step, the StepProgress of that, its place, and its history of “not tested”."""

    step: InspectionStep
    progress: object
    place: CheckPlace
    marks: list
    not_tested_form: object = None

    @property
    def caution_line(self):
        return caution_line(self.step)

    @property
    def cautions(self):
        return test_of(self.step).cautions

    @property
    def contests(self):
        slot = self.place.slot
        return [Contest(slot, self.place.reading, contested) for contested in self.place.contests]

    @property
    def is_answered(self):
        return bool(self.place.reading) or bool(self.step.not_tested_reason)


@dataclass(frozen=True, slots=True)
class Answered:
    """How far the checks of a page are. `readings` counts all that were ever entered: more means later."""

    total: int
    answered: int
    negative: int
    readings: int


def checks_about(steps, step):
    """Return the checks that follow each other in `steps`, about and with `step`."""
    at = [one.pk for one in steps].index(step.pk)
    first, last = at, at
    while first > 0 and steps[first - 1].is_check:
        first -= 1
    while last + 1 < len(steps) and steps[last + 1].is_check:
        last += 1
    return steps[first : last + 1]


class CheckSheet:
    """Lays out checks of one inspection with their answers, last time's and their history; four queries in all.

    progress  StepProgress by key of the step
    refused   key of a step to what was refused of it, as `keep_step` returns it
    """

    def __init__(self, steps, progress, *, refused=None):
        self.steps, self.progress = steps, progress
        self.refused = refused or {}
        self.readings = _by_step(
            Reading.objects.filter(step__in=steps)
            .select_related("instrument", "entered_by", "token")
            .order_by("entered_at", "pk")
        )
        self.marks = _by_step(NotTestedMark.objects.filter(step__in=steps).with_people())
        self.last = _last_answers(steps)

    @property
    def checks(self):
        return [self.check(step) for step in self.steps]

    def check(self, step):
        slot = find_slot(step, ANSWER)
        readings = self.readings.get(step.pk, [])
        reading = next((one for one in readings if one.superseded_at is None), None)
        typed, refusal = self.refused.get(step.pk, {}).get(slot.key, (None, ""))
        contests = [one for one in readings if one.is_contested]
        options = tuple((value, value.capitalize()) for value in YES_NO)
        last = self.last.get(step.what)
        place = CheckPlace(
            slot, Settings(), reading, last, options=options, typed=typed, refusal=refusal, contests=contests,
            step_pk=step.pk,
        )  # fmt: skip
        return Check(step, self.progress.get(step.pk), place, self.marks.get(step.pk, []))

    @property
    def answered(self):
        return answered(self.steps, [one for found in self.readings.values() for one in found])


def answered(steps, readings):
    """Return the Answered of checks with all their readings."""
    current = {one.step_id: one for one in readings if one.superseded_at is None}
    done = [step for step in steps if step.pk in current or step.not_tested_reason]
    negative = sum(one.as_read == "no" for one in current.values())
    return Answered(len(steps), len(done), negative, len(readings))


def answered_about(step):
    """Return the Answered of the page that holds a check; two queries."""
    steps = checks_about(list(step.inspection.steps.that_apply()), step)
    return answered(steps, list(Reading.objects.filter(step__in=steps)))


def _by_step(rows):
    found = {}
    for row in rows:
        found.setdefault(row.step_id, []).append(row)
    return found


def _last_answers(steps):
    """Last time's answer of each check, by what it looks at; one query."""
    earlier = InspectionStep.objects.last_checks(steps[0].inspection).values("pk")
    answers = Reading.objects.current().filter(step__in=earlier, field=ANSWER).select_related("step")
    return {answer.step.what: answer for answer in answers}
