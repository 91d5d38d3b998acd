"""The currencies among which a site chooses, from currencies.toml, and amounts of money in words.

Source of the codes and their digits: ISO 4217, list one (from memory).
"""

import tomllib
from collections.abc import Mapping
from decimal import Decimal
from importlib.resources import files
from types import MappingProxyType


class UnknownCurrency(ValueError):
    """A code that is not in the list; the message says what is accepted."""


def _digits() -> Mapping[str, int]:
    data = tomllib.loads(files("fleet.catalogue").joinpath("currencies.toml").read_text(encoding="utf-8"))
    by_code = {code: int(digits) for digits, codes in data["digits"].items() for code in codes.split()}
    return MappingProxyType(dict(sorted(by_code.items())))


CURRENCY_DIGITS: Mapping[str, int] = _digits()


def currency_choices() -> list[tuple[str, str]]:
    """Return every code as a choice of a form or a column."""
    return [(code, code) for code in CURRENCY_DIGITS]


def smallest_unit(currency: str) -> Decimal:
    """Return the smallest amount of a currency, such as 0.01. Raises UnknownCurrency."""
    if currency not in CURRENCY_DIGITS:
        raise UnknownCurrency(f"“{currency}” is no currency. Use a code of ISO 4217, such as EUR, INR or USD.")
    return Decimal(1).scaleb(-CURRENCY_DIGITS[currency])


def in_smallest_units(amount: Decimal, currency: str) -> int:
    """Return an amount as a whole number of the smallest unit, such as cents. Raises ValueError for a part of one."""
    units = amount / smallest_unit(currency)
    if units != units.to_integral_value():
        raise ValueError(f"{amount} {currency} has more digits than the currency: {CURRENCY_DIGITS[currency]} at most")
    return int(units)


def from_smallest_units(units: int, currency: str) -> Decimal:
    """Return a whole number of the smallest unit as an amount: 1250 cents are 12.50."""
    return units * smallest_unit(currency)
