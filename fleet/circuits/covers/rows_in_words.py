"""Texts for the rows of a stored cover, for pages, files and reports."""

from collections import Counter
from dataclasses import dataclass

from fleet.catalogue import FEATURES, HAZARDS
from fleet.circuit.cover_rows import CauseGroup, CoverRow, Status
from fleet.circuit.cover_text import figures_words
from fleet.circuit.serialise import TableFormatError, closing_from_dict, table_from_dict

GROUP_WORDS = {
    CauseGroup.USE: "way of use",
    CauseGroup.SUPPLY: "supply",
    CauseGroup.COMPONENT: "component failure",
    CauseGroup.CONNECTION: "hose or connection",
}
MARKS = {Status.OPEN: "open", Status.TOLD: "conditional-pass", Status.STOPPED: "pass"}
ORDER = tuple(Status)


@dataclass(frozen=True, slots=True)
class ShownRow:
    """One row of a cover table in words."""

    row: CoverRow

    @property
    def hazard(self):
        return HAZARDS[self.row.hazard].name

    @property
    def cause(self):
        return self.row.cause.title

    @property
    def group(self):
        return GROUP_WORDS[self.row.cause.group]

    @property
    def likelihood(self):
        return str(self.row.cause.likelihood)

    @property
    def status(self):
        return str(self.row.status)

    @property
    def status_word(self):
        return self.row.status.word

    @property
    def mark(self):
        return MARKS[self.row.status]

    @property
    def stopped_by(self):
        """What stops it: one feature, any one of several, or several only together."""
        names = feature_names(self.row.stopped_by)
        if len(names) < 2:
            return "".join(names)
        return f"only together: {', '.join(names)}" if self.row.together else f"any one of {', '.join(names)}"

    @property
    def told_by(self):
        return ", ".join(feature_names(self.row.told_by))

    @property
    def answer(self):
        """The status in one phrase."""
        if self.row.status is Status.OPEN:
            return "OPEN: nothing stops it and nothing alarms"
        if self.row.status is Status.TOLD:
            return f"alarmed by {self.told_by}"
        return f"stopped by {self.stopped_by}" if self.row.stopped_by else "stopped"

    @property
    def steps(self):
        return self.row.steps

    @property
    def figures(self):
        return figures_words(self.row.figures)

    @property
    def without(self):
        return figures_words(self.row.without)


def feature_names(codes):
    return [FEATURES[code].name if code in FEATURES else code for code in codes]


def read_table(cover):
    """Return the CoverTable of a CircuitCover; None if another release stored it in another format."""
    try:
        return table_from_dict(cover.table)
    except TableFormatError:
        return None


def read_closing(cover):
    """Return the ClosingSets of a CircuitCover; none if another release stored them in another format."""
    try:
        return closing_from_dict(cover.closing)
    except TableFormatError:
        return ()


def counted(rows):
    """Return the number of rows of each status, as (status, number) in the order of Status."""
    counts = Counter(row.status for row in rows)
    return [(status, counts[status]) for status in ORDER]
