"""What the values of a file mean: the words of the file and the words of the register, as a person answered before."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from fleet.export.cells import text_of
from fleet.register_file.spellings import plain

MOST_STEPS = 3  # a value may mean a word that has itself been given a meaning later
PLACEHOLDERS = frozenset(
    (
        "-", "--", "---", "–", "—", "_", ".", "?", "??", "???", "*", "0", "00", "000", "0000", "x", "xx", "xxx", "xxxx",
        "n/a", "na", "n.a", "n/k", "nk", "none", "nil", "null", "unknown", "unk", "unkn", "not known", "not available",
        "not applicable", "not recorded", "not legible", "illegible", "missing", "tbc", "tbd", "to be confirmed",
        "to follow", "see note", "no serial", "no number", "no sn", "blank", "various", "same", "ditto",
    )
)  # fmt: skip  # common practice, no source


@dataclass(frozen=True)
class Meanings:
    """(column, within, value as written) -> word of the register; "" leaves the cell blank, None: right as written.

    within  site within which an area's name has this meaning, by its code or name in lower case; "" for every site
    Written values and sites are as `plain` leaves them.
    """

    entries: Mapping[tuple[str, str, str], str | None] = field(default_factory=dict)

    def read(self, column: str, cell, within: str = ""):
        """Return the cell, or what it means."""
        if not self.entries or cell == "":
            return cell
        for _ in range(MOST_STEPS):
            written = plain(text_of(cell))
            meaning = self.entries.get((column, within, written), self.entries.get((column, "", written)))
            if meaning is None or meaning == cell:
                return cell
            cell = meaning
            if cell == "":
                return cell
        return cell

    def confirms(self, column: str, text: str) -> bool:
        """Return whether a person said that this value is right as it is written."""
        return self.entries.get((column, "", plain(text)), "") is None


def is_placeholder(text: str) -> bool:
    """Return whether a text stands for a number that nobody knew."""
    return plain(text).rstrip(".") in PLACEHOLDERS or plain(text) in PLACEHOLDERS


LOOK_ALIKES = str.maketrans("OIL", "011")  # common practice, no source


def look_of(serial: str) -> str:
    """Return a serial number as it looks on a worn plate: without blanks and signs, O as 0, I and L as 1."""
    return "".join(letter for letter in serial.upper() if letter.isalnum()).translate(LOOK_ALIKES)
