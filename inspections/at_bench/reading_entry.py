"""One reading on its way into the record: resolved once, from a form, from JSON or from a program."""

from dataclasses import dataclass

from fleet.catalogue.plausibility import reading_problem
from fleet.place_format import POINT, NumberRefused, current, quantities_in_words, read_number
from inspections.at_bench.slots import Slot, find_slot
from inspections.concurrent_edits import NOT_TOLD
from inspections.errors import ReadingRefused

LONGEST = 40
REPEATED = ";"  # between a reading and its repeats
LONGEST_NUMBER = 20  # characters, as stored
ZEROS = ("", "gauge", "absolute")


@dataclass(frozen=True, slots=True)
class Entry:
    """One reading as it was sent, with the slot that it is for. An empty text takes the reading back.

    seen  key of the reading that was seen in the slot before, None for an empty slot, NOT_TOLD if nothing was said
    """

    slot: Slot
    as_read: str
    unit: str = ""
    zero: str = ""
    instrument: object = None
    seen: object = NOT_TOLD
    read_again: str = ""  # digits of the repeats, a space between

    @property
    def place(self):
        """The columns of a stored reading that say where it belongs."""
        return {"field": self.slot.field, "row": self.slot.row, "column": self.slot.column}

    @property
    def values(self):
        """The columns of a stored reading that say what was read."""
        read = {"as_read": self.as_read, "read_again": self.read_again}
        return read | {"unit": self.unit, "zero": self.zero, "instrument": self.instrument}

    def repeats(self, reading):
        """Whether it says the same as a stored reading; an empty text repeats an empty place."""
        if reading is None:
            return not self.as_read
        return all(getattr(reading, name) == value for name, value in self.values.items())


def make_entry(slot, as_read, *, unit="", zero="", instrument=None, seen=NOT_TOLD, decimal=POINT):
    """Return the Entry for a slot. Raise ReadingRefused for a text that is no number, or too long, or an unknown zero.

    as_read  a number, or several with a semicolon between them for what was read again: “4.1; 4.2; 4.1”
    decimal  the decimal sign of whoever wrote `as_read`; an Entry has the digits with a point, as they are stored
    An answer has the unit of its question and no instrument. A pressure without a zero takes the declared one.
    """
    as_read = as_read.strip()
    if len(as_read) > LONGEST:
        raise ReadingRefused(f"{slot.label}: {len(as_read)} characters are too many for a reading.", slot.key)
    if slot.options:
        return Entry(slot, as_read, slot.unit_of_options, seen=seen)
    if zero not in ZEROS:
        raise ReadingRefused(f"{slot.label}: a pressure is gauge or absolute; got “{zero}”.", slot.key)
    first, *others = _all_digits(slot, as_read, decimal) if as_read else [""]
    return Entry(slot, first, unit, slot.zero_for(unit, zero), instrument, seen, " ".join(others))


def _all_digits(slot, text, decimal):
    """The numbers of a text: one, or a reading and its repeats with a semicolon between them."""
    found = [_digits(slot, one, decimal) for one in text.split(REPEATED) if one.strip()]
    return found or [_digits(slot, text, decimal)]


def _digits(slot, text, decimal):
    try:
        digits = read_number(text, decimal)
    except NumberRefused as error:
        raise ReadingRefused(f"{slot.label}: {error}", slot.key) from None
    if len(digits) > LONGEST_NUMBER:
        raise ReadingRefused(
            f"{slot.label}: “{digits}” has too many digits. Accepted: {LONGEST_NUMBER} at most.", slot.key
        )
    return digits


def entry_at(step, field, *, as_read, row=0, column="", **sent):
    """Return the Entry for the place that the step's test declares under these keys. Raise ReadingRefused."""
    return make_entry(find_slot(step, field, row, column), as_read, **sent)


def checked_instrument(slot, choice):
    """Return the instrument of an InstrumentChoice, which is None for one that the site does not offer.

    Raise ReadingRefused for one that is elsewhere, out of calibration, or has no scale for the slot.
    """
    if choice is None:
        raise ReadingRefused(
            f"{slot.label}: this instrument is not in use at the machine's site. Choose one of the list.", slot.key
        )
    if choice.refusal:
        raise ReadingRefused(
            f"{slot.label}: instrument {choice.code} cannot be used for a signed reading: {choice.refusal}. "
            "Choose another.",
            slot.key,
        )
    if slot.dimension not in choice.dimensions:
        raise ReadingRefused(f"{slot.label}: instrument {choice.code} has no scale for {slot.dimension}.", slot.key)
    return choice.instrument


def refuse_unreadable(entry):
    """Raise ReadingRefused for what the field of an Entry does not take: option, unit, or a number that cannot be."""
    slot, as_read, unit = entry.slot, entry.as_read, entry.unit
    if slot.options and as_read not in slot.options:
        raise ReadingRefused(f"{slot.label} takes one of: {', '.join(slot.options)}; got “{as_read}”.", slot.key)
    if slot.options:
        return
    if unit not in slot.units:
        raise ReadingRefused(f"{slot.label} takes {' or '.join(slot.units)}; got the unit “{unit}”.", slot.key)
    if not as_read:
        raise ReadingRefused(f"{slot.label}: an empty text is not a number. Write digits, such as 24.5.", slot.key)
    for digits in (as_read, *entry.read_again.split()):
        if problem := reading_problem(float(digits), unit):
            said = quantities_in_words(problem.of(f"{digits} {unit}"), current())
            raise ReadingRefused(f"{slot.label}: {said} Check the unit.", slot.key)
