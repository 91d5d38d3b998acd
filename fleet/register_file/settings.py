"""The choices of a person about how a file is read."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field

MAX_ROWS = 10_000
MAX_BYTES = 10 * 1024 * 1024
MAX_COLUMNS = 300
DELIMITERS = {",": "comma", ";": "semicolon", "\t": "tab", "|": "bar"}
ENCODINGS = {
    "utf-8": "UTF-8",
    "utf-16-le": "UTF-16 (little-endian)",
    "utf-16-be": "UTF-16 (big-endian)",
    "cp1252": "Windows-1252",
    "latin-1": "Latin-1 (ISO 8859-1)",
    "iso8859-15": "Latin-9 (ISO 8859-15)",
    "cp1250": "Windows-1250 (Central Europe)",
    "cp850": "DOS 850",
    "mac-roman": "Mac Roman",
}
DATE_ORDERS = {
    "iso": "year-month-day only, such as 2019-03-31",
    "day": "day first, such as 31/03/2019",
    "month": "month first, such as 03/31/2019",
}


@dataclass(frozen=True)
class Settings:
    """How to read a file. None (and a header that `columns` does not name) = detect, and ask where that is unsafe.

    encoding, delimiter, date_order  keys of ENCODINGS, DELIMITERS, DATE_ORDERS
    sheet       name of a sheet
    header_row  as a spreadsheet counts, from 1
    columns     label of a header -> name of a column, or "" for a column that is left out
    counts_as   code of the procedure that earlier inspections count as, where their row does not say; "" for none
    left_out    numbers of rows that a person left out
    only        numbers of the rows that are read; None for all of them
    """

    encoding: str | None = None
    delimiter: str | None = None
    sheet: str | None = None
    header_row: int | None = None
    date_order: str | None = None
    columns: Mapping[str, str] = field(default_factory=dict)
    counts_as: str | None = None
    left_out: Sequence[int] = ()
    only: Sequence[int] | None = None

    def as_json(self) -> dict:
        return asdict(self)
