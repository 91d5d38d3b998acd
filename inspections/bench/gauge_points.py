"""The points at which a pressure gauge was compared with its reference: their errors, and how the two ways differ."""

from dataclasses import dataclass
from itertools import pairwise

from .errors import BenchError
from .measuring import Bench
from .propagation import Measured, propagate_measured
from .quantities import from_si
from .uncertainty import RECTANGULAR, Estimate

RISING, FALLING = "rising", "falling"
READ_WITHIN = 0.005  # half width of what a needle is read to, share of the span; common practice, no source
NEAR = 0.02  # share of the span by which two points count as the same pressure; common practice, no source


@dataclass(frozen=True, slots=True)
class Point:
    """One reading of the gauge against the reference, Pa."""

    number: int
    way: str
    reference: Measured
    shown: Measured

    def error(self, span: float) -> Estimate:
        """Return (shown - reference) / span."""
        return propagate_measured(lambda shown, true: (shown - true) / span, (self.shown, self.reference))

    @property
    def where(self) -> str:
        reference, shown = (from_si(one.value, "kPa") for one in (self.reference, self.shown))
        return f"{self.way.capitalize()}, row {self.number}: gauge {shown:.4g} kPa, reference {reference:.4g} kPa."


def span_of(bench: Bench) -> float | None:
    """Return the full scale of the gauge, Pa, None where it was not entered. Raises BenchError for one of zero."""
    top = bench.value("full_scale", nominal=True)
    division = bench.value("division", nominal=True)
    if top is None:
        return None
    if top.value <= 0:
        raise BenchError("full_scale", "Full scale of the gauge: enter the highest pressure on its dial, above zero.")
    if division is not None and not 0 < division.value <= top.value:
        raise BenchError("division", "Division of the dial: above zero and no more than the full scale.")
    return top.value


def needle(bench: Bench, shown: Measured, span: float) -> Measured:
    """Return what a needle shows with what the eye reads it to: a quarter of a division."""
    division = bench.value("division", nominal=True)
    if division is None:
        bench.assume(f"the needle was read to ± {READ_WITHIN:.1%} of the full scale (common practice, no source); its "
                     "division was not entered.")  # fmt: skip
    half = READ_WITHIN * span if division is None else division.value / 4
    return Measured(shown.value, own_std=half / 3**0.5, own_excess=RECTANGULAR, repeat_std=shown.repeat_std,
                    repeat_dof=shown.repeat_dof)  # fmt: skip


def read_points(bench: Bench, way: str, span: float) -> list[Point]:
    """Return the points of one table by their reference pressure."""
    rows = bench.rows(way, nominal=("shown",))
    found = [Point(number, way, row["reference"], needle(bench, row["shown"], span)) for number, row in rows]
    return sorted(found, key=lambda one: one.reference.value)


def apart_from(one: Point, rising: list[Point], span: float) -> tuple[Point, Estimate] | None:
    """Return a falling point and how far its error is from that of the rising ones; None beyond these."""
    near = min(rising, key=lambda other: abs(other.reference.value - one.reference.value), default=None)
    if near is None:
        return None
    if abs(near.reference.value - one.reference.value) <= NEAR * span:
        return one, _difference(one, near, near, 0.0, span)
    for low, high in pairwise(rising):
        if low.reference.value < one.reference.value < high.reference.value:
            part = (one.reference.value - low.reference.value) / (high.reference.value - low.reference.value)
            return one, _difference(one, low, high, part, span)
    return None


def _difference(one: Point, low: Point, high: Point, part: float, span: float) -> Estimate:
    """Return the size of error falling less error rising; the reference's own error mostly cancels."""
    ends = (low,) if low is high else (low, high)
    read = tuple(measured for point in (one, *ends) for measured in (point.shown, point.reference))

    def signed(*values: float) -> float:
        errors = [shown - true for shown, true in zip(values[::2], values[1::2], strict=True)]
        rising = errors[1] if len(errors) == 2 else errors[1] + part * (errors[2] - errors[1])
        return (errors[0] - rising) / span

    plain = signed(*(measured.value for measured in read))
    sign = -1.0 if plain < 0 else 1.0
    return propagate_measured(lambda *values: sign * signed(*values), read)
