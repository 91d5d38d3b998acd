"""The problems of a file grouped by distinct value, so that one answer settles all of its rows."""

from dataclasses import dataclass, field
from hashlib import sha256

from fleet.register_file.spellings import plain

ORDER = ("site", "model", "area")  # a site is answered before its areas, which are asked about within it
SHOWN_ROWS = 6


@dataclass
class ValueQuestion:
    """One value of one column with one problem: the rows that have it, and what is accepted.

    about, within  as a Problem has them
    """

    about: str
    column: str
    within: str
    value: str
    message: str
    accepted: str
    rows: list[int] = field(default_factory=list)

    @property
    def code(self):
        """A short name that is the same whenever the same question is asked."""
        said = "\n".join((self.about, self.column, self.within, plain(self.value), self._apart))
        return sha256(said.encode()).hexdigest()[:12]

    @property
    def _apart(self):
        return self.message if self.about in ("near", "twice") else ""

    @property
    def row_words(self):
        shown = ", ".join(map(str, self.rows[:SHOWN_ROWS]))
        more = len(self.rows) - SHOWN_ROWS
        return f"{shown} and {more} more" if more > 0 else shown


def questions_of(snapshot):
    """Return the ValueQuestions of a preview: sites, models and areas first, then those with the most rows."""
    found = {}
    for row, column, value, message, accepted, about, within in snapshot["problems"]:
        if about and row and value:
            question = ValueQuestion(about, column, within, value, message, accepted)
            found.setdefault(question.code, question).rows.append(row)
    return sorted(found.values(), key=_place)


def unanswerable(snapshot):
    """Return how many problems no answer settles: they are mended in the file."""
    return sum(1 for row, _, value, _, _, about, _ in snapshot["problems"] if not (about and row and value))


def _place(question):
    first = ORDER.index(question.column) if question.column in ORDER else len(ORDER)
    return first, question.within, -len(question.rows), question.value
