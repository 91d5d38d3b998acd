"""What verification finds."""

from dataclasses import dataclass

SHOWN = 120


@dataclass(frozen=True, slots=True)
class Trouble:
    """One thing that is not as it was signed or journaled.

    kind        "altered", "removed", "inserted", or "time" where time runs backwards or a date is not that of the deed
    site        code of the site; sequence, the number of the entry; inspection, its number; None where not known
    what        the thing, such as "reading 41"; field, its column, empty for the whole thing
    """

    kind: str
    site: str
    what: str
    field: str = ""
    expected: str = ""
    found: str = ""
    sequence: int | None = None
    inspection: int | None = None

    def __str__(self):
        record = "" if self.inspection is None else f", inspection {self.inspection}"
        entry = "" if self.sequence is None else f", entry {self.sequence}"
        field = f", {self.field}" if self.field else ""
        values = f": expected {self.expected}, found {self.found}" if self.expected or self.found else ""
        return f"{self.kind}: site {self.site}{entry}{record}: {self.what}{field}{values}"


def shown(value):
    """A value as a report says it: nothing by that word, long texts shortened around nothing that matters."""
    if value is None or value == "":
        return "nothing"
    text = str(value)
    return text if len(text) <= SHOWN else f"{text[:SHOWN]}…"
