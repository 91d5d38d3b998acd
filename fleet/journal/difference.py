"""What verification of the journal finds."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that is not as the journal says.

    kind    "altered", "removed", "inserted", or "time"
    what    the thing in words; table and row name it where it is a row
    column  its column, with expected and found values; empty for the whole thing
    link    number of the link that says so
    values  column -> value as far as they are known, for who looks for the site of the row
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
