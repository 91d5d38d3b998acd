"""What somebody may have read who typed this: another unit, a shifted point, two neighbouring digits swapped."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from math import log

from fleet.catalogue.dimensions import find_unit

from ..quantities import Zero, si_factor, to_si

POINTS = (-1, 1, -2, 2)  # places by which a point is shifted
NEARLY_THE_SAME = 0.1  # units closer than 10 % are not asked about: mbar and hPa, cmH2O and mbar


@dataclass(frozen=True, slots=True)
class Typed:
    """A number as typed, with a point, and its unit. `zero` is that of a pressure."""

    digits: str
    unit: str
    zero: Zero | None = None
    ambient_pa_abs: float | None = None

    @property
    def value(self) -> float:
        """Return the value in SI, a pressure gauge. Raises ValueError for what cannot be."""
        return to_si(float(self.digits), self.unit, zero=self.zero, ambient_pa_abs=self.ambient_pa_abs)

    @property
    def step(self) -> float:
        """Return the worth of the last digit, SI."""
        return 10.0 ** -len(self.digits.partition(".")[2]) * si_factor(self.unit)

    def with_digits(self, digits: str) -> "Typed":
        return Typed(digits, self.unit, self.zero, self.ambient_pa_abs)


@dataclass(frozen=True, slots=True)
class Alternative:
    """What may have been read instead. `slip`: "unit", "point" or "digits"."""

    typed: Typed
    slip: str


def alternatives_to(typed: Typed, units: Sequence[str]) -> list[Alternative]:
    """Return every single slip that could have made `typed`; `units` are those that its place takes."""
    found = [Alternative(other, "unit") for other in other_units(typed, units)]
    found += [Alternative(typed.with_digits(digits), "point") for digits in shifted(typed.digits)]
    return found + [Alternative(typed.with_digits(digits), "digits") for digits in swapped(typed.digits)]


def other_units(typed: Typed, units: Sequence[str]) -> list[Typed]:
    """Return the same digits in each other unit that makes a difference."""
    own = find_unit(typed.unit)[1]
    found = []
    for symbol in units:
        other = find_unit(symbol)[1]
        differs = abs(log(other.factor / own.factor)) > NEARLY_THE_SAME or other.zero != own.zero
        if symbol != typed.unit and differs:
            found.append(Typed(typed.digits, symbol, typed.zero, typed.ambient_pa_abs))
    return found


def shifted(digits: str) -> list[str]:
    """Return the digits with the point shifted by one or two places either way; none for zero."""
    number = Decimal(digits)
    return [plain(number.scaleb(places)) for places in POINTS] if number else []


def swapped(digits: str) -> list[str]:
    """Return the digits with two different neighbours swapped, also across the point, each once.

    A number that would begin with a needless zero is left out: nobody writes it.
    """
    at, found = [index for index, sign in enumerate(digits) if sign.isdigit()], {}
    for left, right in zip(at, at[1:], strict=False):
        signs = list(digits)
        signs[left], signs[right] = signs[right], signs[left]
        text = "".join(signs)
        if text != digits and not _has_needless_zero(text):
            found[text] = None
    return list(found)


def plain(number: Decimal) -> str:
    """Return a number in digits, without a power of ten and without zeros at its end."""
    text = format(number, "f")
    return (text.rstrip("0").rstrip(".") if "." in text else text) or "0"


def _has_needless_zero(text):
    """Whether a number of two digits or more begins with a zero that nothing follows but digits."""
    bare = text.lstrip("+-")
    return bare[0] == "0" and bare[1] != "."
