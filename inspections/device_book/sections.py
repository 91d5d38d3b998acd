"""A part of a device book: a table of JSON values, which paper and file both show."""

from collections.abc import Callable, Iterable
from dataclasses import asdict, dataclass, field
from datetime import date, datetime

MOST_ROWS = 2000  # of one part; what is left out is counted and said


@dataclass(frozen=True, slots=True)
class Column:
    """share  part of the width of the paper; kind  "text", "day", "moment" or "digest", how paper writes the value"""

    key: str
    label: str
    share: float
    kind: str = "text"


@dataclass(frozen=True, slots=True)
class Section:
    """empty  the sentence where there is no row; note  what to know before the rows are relied on"""

    code: str
    title: str
    columns: tuple[Column, ...]
    rows: list[dict]
    empty: str
    note: str = ""
    left_out: int = 0

    def as_content(self) -> dict:
        """Return it as JSON values."""
        return asdict(self) | {"columns": [asdict(one) for one in self.columns]}


@dataclass(frozen=True, slots=True)
class Table:
    """What a section is of, before its rows are read."""

    code: str
    title: str
    columns: tuple[Column, ...]
    empty: str
    note: str = ""
    most: int = field(default=MOST_ROWS)

    def of(self, queryset, row: Callable[[object], Iterable]) -> Section:
        """Read the rows of a queryset, bounded; `row` returns the values of one in the order of the columns."""
        found = list(queryset[: self.most + 1])
        left_out = queryset.count() - self.most if len(found) > self.most else 0
        return self.of_rows([row(one) for one in found[: self.most]], left_out=left_out)

    def of_rows(self, rows: Iterable[Iterable], *, left_out=0) -> Section:
        keys = [one.key for one in self.columns]
        made = [dict(zip(keys, map(_plain, row), strict=True)) for row in rows]
        return Section(self.code, self.title, self.columns, made, self.empty, self.note, left_out)


def _plain(value):
    """Return a JSON value: days and moments as ISO 8601, everything else as text; None for what is not recorded."""
    if value is None or value == "":
        return None
    if isinstance(value, bool | int | float):
        return value
    return value.isoformat() if isinstance(value, date | datetime) else str(value)
