"""The problems of a register file, in words that let a person correct it."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Problem:
    """One problem: where, what, and what is accepted.

    row     as a spreadsheet counts, the first being row 1; 0 = the file as a whole
    about   what a person can answer to it: "name" of a record, "placeholder", "near" (nearly the number of another
            machine), "twice" in the file, "cell" that cannot be read; empty for what must be mended in the file
    within  code of the site within which the name of an area is asked about
    """

    row: int
    column: str
    value: str
    message: str
    accepted: str
    about: str = ""
    within: str = ""

    def __str__(self):
        place = f"row {self.row}" if self.row else "file"
        if self.column:
            place += f", column {self.column}"
        shown = f" “{self.value}”" if self.value else ""
        return f"{place}:{shown} {self.message} Accepted: {self.accepted}"


class Unreadable(Exception):
    """The file as a whole cannot be read; holds the Problem that says why."""

    def __init__(self, message, accepted, value="", row=0):
        super().__init__(message)
        self.problem = Problem(row, "", value, message, accepted)


@dataclass(frozen=True, slots=True)
class Question:
    """A choice that a person must make before the file is unambiguous.

    about       "encoding", "sheet", "columns" or "dates"
    is_open     False: the detected answer is shown for review, and is used without an answer
    """

    about: str
    text: str
    is_open: bool = True
