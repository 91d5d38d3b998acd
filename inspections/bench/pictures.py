"""Series and marks in display units, for the curves of all tests."""

from collections.abc import Sequence

from .limits import Limit
from .propagation import Measured
from .quantities import from_si, interval_from_si
from .results import Mark, Result, Series


def points(
    label: str, pairs: Sequence[tuple[Measured, Measured]], x_unit: str, y_unit: str, style: str = "both"
) -> Series:
    """Return readings (x, y) as a series in display units, in the order given."""
    shown = tuple((from_si(x.value, x_unit), from_si(y.value, y_unit)) for x, y in pairs)
    return Series(label, shown, style)


def result_mark(axis: str, result: Result, unit: str) -> Mark:
    """Return the mark of a result, its expanded uncertainty as half width."""
    spread = interval_from_si(result.expanded_uncertainty_si, unit)
    return Mark(axis, from_si(result.value_si, unit), result.label, "result", spread)


def limit_marks(axis: str, limit: Limit | None, unit: str) -> list[Mark]:
    """Return a mark for each end of a limit."""
    if limit is None:
        return []
    ends = (("lower limit", limit.lower_si), ("upper limit", limit.upper_si))
    return [Mark(axis, from_si(end, unit), label, "limit") for label, end in ends if end is not None]
