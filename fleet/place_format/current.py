"""The format of the place that is shown now. Without one, everything is written neutrally: a point, A4, 2 Nov 2026."""

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from fleet.place_format.numbers import with_decimal_sign
from fleet.place_format.place import NEUTRAL, PlaceFormat

THIN_SPACE = "\N{NARROW NO-BREAK SPACE}"
_current: ContextVar[PlaceFormat] = ContextVar("place_format", default=NEUTRAL)


def current() -> PlaceFormat:
    """Return the format of the place that is shown now."""
    return _current.get()


def use(place_format: PlaceFormat) -> None:
    """Show what follows in this thread as that place writes it."""
    _current.set(place_format)


def fixed(value: float, decimals: int) -> str:
    """Return a number with that many decimals and the decimal sign of the place that is shown now."""
    return with_decimal_sign(f"{value:.{decimals}f}", current().decimal)


def counted(count: int) -> str:
    """Return a count with its thousands parted: by a comma beside a decimal point, by a space beside a comma."""
    return f"{count:,}".replace(",", "," if current().decimal == "." else THIN_SPACE)


@contextmanager
def using(place_format: PlaceFormat) -> Iterator[None]:
    """Show what is inside as that place writes it; NEUTRAL for what is stored or compared."""
    token = _current.set(place_format)
    try:
        yield
    finally:
        _current.reset(token)
