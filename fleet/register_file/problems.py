"""The problems of a register file, in words that let a person correct it."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong: where, what, and what is accepted.

    row  as a spreadsheet counts, the first being row 1; 0 = the file as a whole
    """

    row: int
    column: str
    value: str
    message: str
    accepted: str

    def __str__(self):
        place = f"row {self.row}" if self.row else "file"
        if self.column:
            place += f", column {self.column}"
        shown = f" “{self.value}”" if self.value else ""
        return f"{place}:{shown} {self.message} Accepted: {self.accepted}"


class Unreadable(Exception):
    """The file as a whole cannot be read; holds the one Problem that says why."""

    def __init__(self, message, accepted, value="", row=0):
        super().__init__(message)
        self.problem = Problem(row, "", value, message, accepted)


@dataclass(frozen=True, slots=True)
class Question:
    """Something that a person must choose before the file can be read one way only.

    about       "encoding", "sheet", "columns" or "dates"
    is_open     False: the answer found is shown for a look, and good without one
    """

    about: str
    text: str
    is_open: bool = True
