"""The findings of a verification of the journal."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Difference:
    """One difference from the journal.

    kind    "altered", "removed", "inserted", or "time"
    what    the object as text; table and row name it where it is a row
    column  its column, with expected and found values; empty for a whole row
    link    number of the link that holds the expected state
    values  column -> value as far as known, to find the site of the row
    """

    kind: str
    what: str
    table: str = ""
    row: int | None = None
    column: str = ""
    expected: object = None
    found: object = None
    link: int | None = None
    values: dict | None = None
