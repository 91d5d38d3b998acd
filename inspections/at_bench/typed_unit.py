"""A reading typed with its unit, such as “45 psi” or “3,1 bar abs”, taken apart into digits, unit and zero."""

import re
import unicodedata
from dataclasses import dataclass

from fleet.catalogue.dimensions import DIMENSIONS
from inspections.bench import Dimension
from inspections.errors import ReadingRefused

# One number, or several with a semicolon between them.
NUMBER = re.compile(r"[+\-\N{MINUS SIGN}]?[0-9.,](?:[0-9.,'’ \u00a0\u202f;]|(?<=[; ])[+\-\N{MINUS SIGN}](?=[0-9.,]))*")
SIGNS_OF_UNITS = "%°"
ZEROS = {"gauge": "gauge", "abs": "absolute", "abs.": "absolute", "absolute": "absolute"}
LETTERS_OF_ZEROS = {"g": "gauge", "a": "absolute"}  # psig, bara


@dataclass(frozen=True, slots=True)
class TypedReading:
    """`unit` and `zero` are empty where the text does not say them."""

    digits: str
    unit: str = ""
    zero: str = ""


def read_typed(slot, text):
    """Return the TypedReading of a text. Raise ReadingRefused for a unit that the place does not take.

    The number itself is read elsewhere: a text without a unit, or one that does not start as a number does, comes back
    as it is.
    """
    if slot.options:
        return TypedReading(text)
    best = None
    for digits, rest in _splits(text.strip()):
        found = _unit_and_zero(slot, rest)
        if found:
            best = TypedReading(digits, *found)
    if best:
        return best
    return _without_known_unit(slot, text)


def _splits(text):
    """Yield the ways to part a text into a number and what follows it, the shortest number last.

    A unit may start with a digit, as 1/min does, if a space parts it from the number.
    """
    number = NUMBER.match(text)
    if number is None:
        return
    yield number[0].strip(), text[number.end() :].strip()
    for space in re.finditer(r"\s+", number[0].rstrip()):
        yield text[: space.start()], text[space.end() :].strip()


def _without_known_unit(slot, text):
    rests = [rest for _, rest in _splits(text.strip())]
    rest = next((rest for rest in reversed(rests) if _symbols(rest)), rests[0] if rests else "")
    if not any(character.isalpha() or character in SIGNS_OF_UNITS for character in rest):
        return TypedReading(text)
    accepted = f"Accepted: {' or '.join(slot.units)}."
    elsewhere = _symbols(rest)
    if len(elsewhere) == 1:
        dimension = DIMENSIONS[_dimension_of(next(iter(elsewhere)))].name.lower()
        raise ReadingRefused(f"{slot.label}: “{rest}” is a unit of {dimension}. {accepted}", slot.key)
    if elsewhere:
        meant = " or ".join(sorted(elsewhere))
        raise ReadingRefused(f"{slot.label}: “{rest}” can mean {meant}. Write it with its capital letters.", slot.key)
    raise ReadingRefused(f"{slot.label}: “{rest}” is no unit that is known here. {accepted}", slot.key)


def _unit_and_zero(slot, text):
    """Return the symbol and the zero that a text names for this place, None if it names none."""
    symbols = _symbols(text) & set(slot.units)
    if len(symbols) == 1:
        return symbols.pop(), ""
    if slot.dimension != Dimension.PRESSURE:
        return None
    words, _, last = text.strip().rpartition(" ")
    ends = [(words, ZEROS.get(last.lower().strip("()"))), (text[:-1], LETTERS_OF_ZEROS.get(text[-1:].lower()))]
    for unit, zero in ends:
        symbols = _symbols(unit) & set(slot.units)
        if zero and len(symbols) == 1:
            return symbols.pop(), zero
    return ("", ZEROS[text.lower()]) if text.lower() in ZEROS else None


def _symbols(text):
    """Return the units that a spelling can mean: that written exactly so, else those that differ in capitals only."""
    plain = _plain(text)
    spellings = _spellings()
    exact = {symbol for word, symbol in spellings if _plain(word) == plain}
    return exact or {symbol for word, symbol in spellings if _plain(word).casefold() == plain.casefold()}


def _plain(text):
    """Return a spelling without spaces, in one form of its signs: “cm H₂O” is “cmH2O”."""
    return "".join(unicodedata.normalize("NFKC", text).split())


def _spellings():
    """Every spelling of every unit with its symbol; read anew, since a dimension can be added."""
    return [
        (word, unit.symbol)
        for dimension in DIMENSIONS.values()
        if not dimension.is_answer
        for unit in dimension.units
        for word in (unit.symbol, *unit.spellings)
    ]


def _dimension_of(symbol):
    return next(code for code, one in DIMENSIONS.items() if symbol in one.symbols)
