"""Serial numbers and lots as a notice lists them: single ones, ranges, and all that begin alike. Plain Python.

One entry a line, or with commas between. "A1200 to A1299" is a range: what precedes the number and what follows it must
be the same at both ends, and numbers are compared as numbers ("SN-0099 to SN-0101" holds SN-0100). "A12*" is all that
begin with A12. Letters are compared without their case.

A number that is written otherwise than the notice writes it (a missing prefix, another dash, other leading zeros) can
be the same number or not: nobody can tell from the record, so the answer is "cannot be decided". Of one that is
written as the notice writes it, or whose digits lie outside, the answer is certain.
"""

import re
from dataclasses import dataclass, field

from inspections.notices.answers import NO, Answer, Match, any_of

BETWEEN = re.compile(r"\s+(?:to|through|until|bis)\s+|\s*(?:\.{2,3}|…)\s*|\s+[-–—]\s+|\s*[–—]\s*", re.IGNORECASE)
ENTRIES = re.compile(r"[,;\n\r]+")
NUMBERED = re.compile(r"(?P<prefix>.*?)(?P<digits>[0-9]{1,30})(?P<suffix>[^0-9]*)", re.DOTALL)
DIGITS = re.compile(r"[0-9]+")
SEPARATORS = re.compile(r"[\W_]+")
LETTERS_BEFORE = re.compile(r"^[^0-9]+")
ZEROS = re.compile(r"(?<![0-9])0+(?=[0-9])")
NOT_A_NUMBER = frozenset(
    ("", "na", "none", "nil", "null", "unknown", "notknown", "notrecorded", "notreadable", "illegible", "tbd", "tba",
     "missing", "x", "xx", "xxx", "0", "00", "000")
)  # fmt: skip
MOST_ENTRIES = 500
MOST_KNOWN = 20_000


class RangeRefused(ValueError):
    """An entry that cannot be read; the message says what would be accepted."""


@dataclass(frozen=True, slots=True)
class Range:
    """From `low` to `high` with one prefix and one suffix; `widths` are the numbers of digits of its ends."""

    prefix: str
    low: int
    high: int
    suffix: str
    widths: tuple[int, int]

    def answer(self, written: str) -> Answer:
        if written.startswith(self.prefix) and (found := DIGITS.match(written, len(self.prefix))):
            return self._of_number(found[0], written[found.end() :], written)
        if self._may_hold(written):
            return _otherwise(written)
        return NO

    def _of_number(self, digits, rest, written):
        if not self.low <= int(digits) <= self.high:
            return NO
        if rest == self.suffix:
            return Answer(Match.CONCERNED) if self._is_written_alike(digits) else _otherwise(written)
        one_has_none = not rest or not self.suffix
        return _otherwise(written) if one_has_none or squeezed(rest) == squeezed(self.suffix) else NO

    def _is_written_alike(self, digits):
        narrow, wide = sorted(self.widths)
        if narrow == wide:
            return len(digits) == narrow
        return not digits.startswith("0") or digits == "0" or narrow <= len(digits) <= wide

    def _may_hold(self, written):
        """Whether it can be one of the range without its prefix, with more before it, or with other signs between."""
        return any(self._holds_a_number(form(self.prefix), form(written)) for form in (squeezed, plain))

    def _holds_a_number(self, prefix, bare):
        behind = bare.split(prefix, 1)[1] if prefix and prefix in bare else None
        if behind is None and (not prefix or _lacks(prefix, bare)):
            behind = bare.removeprefix(LETTERS_BEFORE.sub("", prefix))
        return behind is not None and any(self.low <= int(one) <= self.high for one in DIGITS.findall(behind))


@dataclass(frozen=True, slots=True)
class Beginning:
    """All that begin with `prefix`."""

    prefix: str

    def answer(self, written: str) -> Answer:
        if written.startswith(self.prefix):
            return Answer(Match.CONCERNED)
        pairs = [(form(self.prefix), form(written)) for form in (squeezed, plain)]
        return _otherwise(written) if any(one in bare or _lacks(one, bare) for one, bare in pairs) else NO


@dataclass(frozen=True, slots=True)
class Single:
    text: str

    def answer(self, written: str) -> Answer:
        if written == self.text:
            return Answer(Match.CONCERNED)
        pairs = [(form(self.text), form(written)) for form in (squeezed, plain)]
        is_alike = any(one == bare or _is_part(bare, one) or _is_part(one, bare) for one, bare in pairs)
        return _otherwise(written) if is_alike else NO


@dataclass(frozen=True, slots=True)
class Listed:
    """What a notice lists under one heading. `what` is "serial number" or "lot", for the reasons."""

    what: str
    entries: tuple
    known: dict = field(default_factory=dict, repr=False, compare=False)  # many components share a lot

    def answer(self, recorded: str) -> Answer:
        if recorded not in self.known:
            if len(self.known) >= MOST_KNOWN:
                self.known.clear()
            self.known[recorded] = self._answer(recorded)
        return self.known[recorded]

    def _answer(self, recorded):
        written = spelled(recorded)
        if not written:
            return Answer(Match.UNDECIDED, f"no {self.what} is recorded")
        if squeezed(written) in NOT_A_NUMBER:
            return Answer(Match.UNDECIDED, f"“{recorded.strip()}” is recorded, which is no {self.what}")
        found = any_of([one.answer(written) for one in self.entries])
        if found.match is Match.NOT_CONCERNED:
            return NO
        if found.match is Match.UNDECIDED:
            reason = f"{self.what} “{recorded.strip()}” is written otherwise than the notice writes it"
            return Answer(Match.UNDECIDED, reason)
        return found


def read_listed(text: str, what: str) -> Listed | None:
    """Return what a text lists, None for an empty one. Raise RangeRefused for an entry that cannot be read."""
    entries = [spelled(one) for one in ENTRIES.split(text)]
    entries = [one for one in dict.fromkeys(entries) if one]
    if len(entries) > MOST_ENTRIES:
        raise RangeRefused(f"{len(entries)} entries are more than {MOST_ENTRIES}. Enter them in several criteria.")
    return Listed(what, tuple(_read_entry(one) for one in entries)) if entries else None


def spelled(text: str) -> str:
    """Return a text in lower case, with single blanks, by which two spellings are equal."""
    return " ".join(text.casefold().split())


def squeezed(text: str) -> str:
    """Return letters and digits alone."""
    return SEPARATORS.sub("", text)


def plain(text: str) -> str:
    """Return letters and digits alone, without the zeros before a number."""
    return squeezed(ZEROS.sub("", text))


def _read_entry(entry):
    ends = BETWEEN.split(entry)
    if len(ends) == 2 and all(ends):
        return _read_range(entry, *ends)
    if len(ends) > 2:
        raise RangeRefused(f"“{entry}” cannot be read. Enter a range as “A1200 to A1299”, one a line.")
    if entry.endswith("*"):
        if not squeezed(entry):
            raise RangeRefused(f"“{entry}” names everything. Enter what the numbers begin with, such as “A12*”.")
        return Beginning(entry.rstrip("*"))
    if not squeezed(entry):
        raise RangeRefused(f"“{entry}” holds no letter or digit. Enter a number such as “A1200”.")
    return Single(entry)


def _read_range(entry, first, last):
    low, high = NUMBERED.fullmatch(first), NUMBERED.fullmatch(last)
    if low is None or high is None:
        raise RangeRefused(f"“{entry}” has an end without a number. Enter a range as “A1200 to A1299”.")
    if (low["prefix"], low["suffix"]) != (high["prefix"], high["suffix"]):
        raise RangeRefused(
            f"The ends of “{entry}” differ in more than their last number. Enter it as “A1200 to A1299”, or as several."
        )
    if int(low["digits"]) > int(high["digits"]):
        raise RangeRefused(f"“{entry}” ends before it begins. Enter the lower number first.")
    widths = len(low["digits"]), len(high["digits"])
    return Range(low["prefix"], int(low["digits"]), int(high["digits"]), low["suffix"], widths)


def _lacks(prefix, bare):
    """Whether `bare` lacks the letters of the prefix: it begins with a digit, and with the digits of the prefix."""
    digits = LETTERS_BEFORE.sub("", prefix)
    return digits != prefix and bare[:1].isdigit() and bare.startswith(digits)


def _is_part(short, long):
    """Whether one is the other without the letters before it."""
    return bool(short) and short != long and long.endswith(short) and long.removesuffix(short).isalpha()


def _otherwise(written):
    return Answer(Match.UNDECIDED, written)
