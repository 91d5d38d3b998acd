"""Quantities in the unit that a place prefers, from the one table of fleet/catalogue/dimensions.toml."""

import re
from collections.abc import Mapping
from dataclasses import dataclass
from math import floor, log10

from fleet.catalogue.dimensions import DIMENSIONS, Dimension, Unit, find_unit
from fleet.place_format.numbers import with_decimal_sign
from fleet.place_format.place import PlaceFormat

FEWEST_FIGURES, MOST_FIGURES = 3, 6
POINT_IN_NUMBER = re.compile(r"(?<![0-9.,])([0-9]+)\.([0-9]+)(?![.,]?[0-9])")
BEFORE_A_UNIT = r"(?=(?: (?:or|and|to|±) [0-9.]+)* (?:{units})(?![A-Za-z]))"


@dataclass(frozen=True, slots=True)
class UnitChoice:
    """What a place can prefer a unit for: a dimension, or a group of its units such as airway pressure."""

    code: str
    name: str
    symbols: tuple[str, ...]


def unit_choices() -> list[UnitChoice]:
    """Return what a place can prefer a unit for: each dimension that has more than one, and each group of units."""
    found = []
    for dimension in DIMENSIONS.values():
        if len(dimension.units) > 1 and not dimension.is_answer:
            groups = dict.fromkeys(unit.group for unit in dimension.units if unit.group)
            found.append(UnitChoice(dimension.code, dimension.name, dimension.symbols))
            found += [UnitChoice(group, group.capitalize(), dimension.symbols) for group in groups]
    return found


def choice_of(symbol: str) -> str:
    """Return the code of the UnitChoice that a unit follows; empty for a unit that is not known."""
    found = find_unit(symbol)
    return (found[1].group or found[0].code) if found else ""


def unit_choice_problem(units: object) -> str:
    """Return why a mapping of choices to preferred units cannot be stored, as a sentence; empty if it can."""
    if not isinstance(units, Mapping):
        return "Preferred units are given as dimension and unit."
    accepted = {one.code: one.symbols for one in unit_choices()}
    for code, symbol in units.items():
        if code not in accepted:
            return f"“{code}” has no unit to choose. Accepted: {', '.join(accepted)}."
        if symbol not in accepted[code]:
            return f"“{symbol}” is not a unit of {code}. Accepted: {', '.join(accepted[code])}."
    return ""


def shown_unit(symbol: str, place_format: PlaceFormat) -> str:
    """Return the unit in which a place shows what a test gives in `symbol`; `symbol` itself if nothing is preferred.

    A unit made of others, such as "psi per L/min", follows the place's unit of pressure where the table has it.
    """
    found = find_unit(symbol)
    if found is None:
        return symbol
    dimension = found[0]
    if preferred := place_format.unit_of(choice_of(symbol)):
        return preferred if preferred in dimension.symbols else symbol
    return _made_of_preferred(symbol, dimension, place_format)


def _made_of_preferred(symbol: str, dimension: Dimension, place_format: PlaceFormat) -> str:
    for other in dimension.symbols if dimension.is_derived else ():
        if other != symbol and any(_differs_by(symbol, other, code, unit) for code, unit in place_format.units):
            return other
    return symbol


def _differs_by(symbol: str, other: str, dimension: str, preferred: str) -> bool:
    """Whether `other` is `symbol` with one of its units replaced by the preferred one of that dimension."""
    known = DIMENSIONS.get(dimension)
    parts, others = re.split(r"( per |/min\Z)", symbol), re.split(r"( per |/min\Z)", other)
    if known is None or len(parts) != len(others):
        return False
    changed = [(was, now) for was, now in zip(parts, others, strict=True) if was != now]
    return len(changed) == 1 and changed[0][0] in known.symbols and changed[0][1] == preferred


def quantity_text(value: float, symbol: str, place_format: PlaceFormat) -> str:
    """Return a quantity that is known in `symbol` in the unit of the place, such as "58.0 psi" for 400 kPa.

    In its own unit a number keeps its digits; in another it has as many figures as it had, three at least.
    """
    target = shown_unit(symbol, place_format)
    if target == symbol:
        return f"{with_decimal_sign(f'{value:g}', place_format.decimal)} {symbol}"
    (_, own), (_, other) = find_unit(symbol), find_unit(target)
    text = _with_figures(converted(value, own, other), _figures(value))
    return f"{with_decimal_sign(text, place_format.decimal)} {target}"


def rounded_quantity(value: float, symbol: str, decimals: int, place_format: PlaceFormat) -> str:
    """Return a quantity in the unit of the place, to `decimals` places of its own unit or to that step in another."""
    target = shown_unit(symbol, place_format)
    if target != symbol:
        (_, own), (_, other) = find_unit(symbol), find_unit(target)
        value = converted(value, own, other)
        decimals = max(0, -floor(log10(10.0**-decimals * own.factor / other.factor)))
    return f"{with_decimal_sign(f'{value:.{decimals}f}', place_format.decimal)} {target}"


def converted(value: float, own: Unit, other: Unit) -> float:
    """Return a value in another unit of the same dimension."""
    return (value * own.factor + own.zero - other.zero) / other.factor


def _figures(value: float) -> int:
    """How many significant figures a number shows, within what is sensible for a converted one."""
    digits = f"{value:.{MOST_FIGURES}g}".partition("e")[0].lstrip("-0.").replace(".", "")
    return min(MOST_FIGURES, max(FEWEST_FIGURES, len(digits.rstrip("0"))))


def _with_figures(value: float, figures: int) -> str:
    if value == 0:
        return "0"
    decimals = figures - 1 - floor(log10(abs(value)))
    return f"{value:.{max(0, decimals)}f}"


def quantities_in_words(sentence: str, place_format: PlaceFormat) -> str:
    """Return a sentence that the program made, with the decimal sign of the place in each number before a unit.

    Numbers of clauses and editions ("4.3.1", "ISO 5360") have no unit and stay as they are.
    """
    if place_format.decimal == "." or "." not in sentence:
        return sentence
    symbols = sorted({unit.symbol for one in DIMENSIONS.values() for unit in one.units} | {"m3", "MAC"}, key=len)
    units = "|".join(re.escape(symbol) for symbol in reversed(symbols))
    shape = POINT_IN_NUMBER.pattern + BEFORE_A_UNIT.format(units=units)
    return re.sub(shape, rf"\1{place_format.decimal}\2", sentence)
