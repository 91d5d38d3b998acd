"""The oxygen that supplies a site. What an analyser should show after a flush follows from its fraction.

Pharmacopoeias know two grades. A concentrator (PSA) plant makes the weaker one: its fraction moves with the load and
the age of the sieve, and what is not oxygen is mostly argon.
"""

from dataclasses import dataclass
from enum import StrEnum


class OxygenGrade(StrEnum):
    """What a site may choose."""

    OXYGEN = "oxygen"
    OXYGEN_93 = "oxygen-93"


@dataclass(frozen=True, slots=True)
class Grade:
    """One grade: the least and the greatest percentage by volume, with source and basis."""

    title: str
    low: float
    high: float
    source: str
    basis: str


GRADES = {
    OxygenGrade.OXYGEN: Grade(
        "Oxygen, 99.5 % or more, from cylinders or liquid", 99.5, 100.0,
        "European Pharmacopoeia, monograph Oxygen", "from memory",
    ),
    OxygenGrade.OXYGEN_93: Grade(
        "Oxygen 93, 90 to 96 %, from concentrators", 90.0, 96.0,
        "monographs of oxygen 93, in a review of PSA plants (gasworld) and PubMed 2973341", "seen",
    ),
}  # fmt: skip
GRADE_TITLES = {code: grade.title for code, grade in GRADES.items()}
STATED_WITHIN = 1.0
"""What a stated percentage may be off, half-width: the analyser of a plant. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class SuppliedOxygen:
    """The oxygen of one site.

    percent  by volume, as measured at the site; None where nobody stated it: then it may lie anywhere in its grade
    Raises ValueError for a percentage outside the grade.
    """

    grade: OxygenGrade = OxygenGrade.OXYGEN
    percent: float | None = None

    def __post_init__(self):
        if problem := percent_problem(self.grade, self.percent):
            raise ValueError(problem)

    @property
    def is_weak(self) -> bool:
        """Whether the rules for pure oxygen do not fit it."""
        return self.grade != OxygenGrade.OXYGEN

    @property
    def fraction(self) -> float:
        """Its fraction by volume, 0 to 1: as stated, else the middle of its grade."""
        grade = GRADES[self.grade]
        return ((grade.low + grade.high) / 2 if self.percent is None else self.percent) / 100

    @property
    def half_range(self) -> float:
        """How far the true fraction may lie from that, to either side."""
        grade = GRADES[self.grade]
        return ((grade.high - grade.low) / 2 if self.percent is None else STATED_WITHIN) / 100

    @property
    def words(self) -> str:
        """In a sentence: “oxygen 93, 90 to 96 %, from concentrators; 93.4 % as stated”."""
        title = GRADES[self.grade].title
        stated = "percentage not stated" if self.percent is None else f"{self.percent:g} % as stated"
        return f"{title[:1].lower()}{title[1:]}; {stated}"


def percent_problem(grade: str, percent: float | None) -> str:
    """Return why a percentage does not fit a grade, empty where it does or none is stated."""
    if grade not in GRADES:
        return f"“{grade}” is no grade of oxygen. Accepted: {', '.join(GRADES)}."
    known = GRADES[OxygenGrade(grade)]
    if percent is None or known.low <= percent <= known.high:
        return ""
    return f"{percent:g} % does not fit “{known.title}”. Accepted: {known.low:g} to {known.high:g} %, or nothing."
