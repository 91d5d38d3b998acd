"""What is wrong with a register file, told so that a person can mend it."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong: where, what, and what is accepted.

    row  as a spreadsheet counts, the header being row 1; 0 = the file as a whole
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
