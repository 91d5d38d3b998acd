"""One line of what a notice names, against what the register knows of an item. Plain Python."""

from dataclasses import dataclass

from inspections.notices.answers import NO, Answer, Match, all_of, any_of
from inspections.notices.ranges import Listed

HOLDS = Answer(Match.CONCERNED)


@dataclass(frozen=True, slots=True)
class Facts:
    """What is recorded of a machine, component or instrument; `model` is the key of the machine's model.

    Of a component, manufacturer, model and year are those of its machine.
    """

    kind: str = ""
    name: str = ""
    manufacturer: str = ""
    model: int | None = None
    part_number: str = ""
    serial: str = ""
    lot: str = ""
    built_year: int | None = None


@dataclass(frozen=True, slots=True)
class Criterion:
    """All that is given must hold. `name` is part of the name of an instrument, years are both included."""

    kind: str = ""
    name: str = ""
    manufacturer: str = ""
    model: int | None = None
    part_numbers: Listed | None = None
    serials: Listed | None = None
    lots: Listed | None = None
    built_from: int | None = None
    built_to: int | None = None

    def answer(self, facts: Facts) -> Answer:
        if not self._is_of_the_sort(facts):
            return NO
        listed = ((self.part_numbers, facts.part_number), (self.serials, facts.serial), (self.lots, facts.lot))
        answers = [one.answer(recorded) for one, recorded in listed if one is not None]
        if any(one is NO for one in answers):
            return NO
        return all_of([HOLDS, *answers, self._built(facts.built_year)])

    def _is_of_the_sort(self, facts):
        return (
            (not self.kind or facts.kind == self.kind)
            and (self.model is None or facts.model == self.model)
            and (not self.manufacturer or facts.manufacturer.casefold() == self.manufacturer.casefold())
            and (not self.name or self.name.casefold() in facts.name.casefold())
        )

    def _built(self, year):
        if self.built_from is None and self.built_to is None:
            return HOLDS
        if year is None:
            return Answer(Match.UNDECIDED, "the year in which the machine was built is not recorded")
        is_within = (self.built_from or year) <= year <= (self.built_to or year)
        return HOLDS if is_within else NO


def answer_of(criteria, facts: Facts) -> Answer:
    """Return the answer of a notice: one line that is met is enough."""
    answers = [answer for one in criteria if (answer := one.answer(facts)) is not NO]
    return any_of(answers) if answers else NO
