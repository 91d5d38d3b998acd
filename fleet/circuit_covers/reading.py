"""A stored cover in words: the text of a row for pages, files and reports."""

from collections import Counter
from dataclasses import dataclass

from fleet.catalogue import FEATURES, HAZARDS
from fleet.circuit.printed import figures_words
from fleet.circuit.serialise import TableFormatError, closing_from_dict, table_from_dict
from fleet.circuit.table import CauseGroup, CoverRow, Status

GROUP_WORDS = {
    CauseGroup.USE: "use",
    CauseGroup.SUPPLY: "supply",
    CauseGroup.PART: "component failure",
    CauseGroup.JOINT: "hose or connector",
}
STATUS_WORDS = {Status.OPEN: "open", Status.TOLD: "alarmed", Status.STOPPED: "stopped"}
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
    def status_words(self):
        return STATUS_WORDS[self.row.status]

    @property
    def mark(self):
        return MARKS[self.row.status]

    @property
    def stopped_by(self):
        """What stops it: any one of several safety features, or all of them together."""
        names = feature_names(self.row.stopped_by)
        if len(names) < 2:
            return "".join(names)
        return f"only together: {', '.join(names)}" if self.row.together else f"any one of {', '.join(names)}"

    @property
    def told_by(self):
        return ", ".join(feature_names(self.row.told_by))

    @property
    def answer(self):
        """The status of the row with what stops or alarms it, in one phrase."""
        if self.row.status is Status.OPEN:
            return "OPEN: nothing stops it and no alarm sounds"
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
    """Return the CoverTable of a CircuitCover; None if it was kept by a release that wrote it otherwise."""
    try:
        return table_from_dict(cover.table)
    except TableFormatError:
        return None


def read_closing(cover):
    """Return the ClosingSets of a CircuitCover; none if they were kept by a release that wrote them otherwise."""
    try:
        return closing_from_dict(cover.closing)
    except TableFormatError:
        return ()


def counted(rows):
    """How many rows have each status, as (status, its words, number) in the order open, alarmed, stopped."""
    counts = Counter(row.status for row in rows)
    return [(str(status), STATUS_WORDS[status], counts[status]) for status in ORDER]
