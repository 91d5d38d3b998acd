"""The points of a certificate: what a scale showed at known values, with the laboratory's uncertainty."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import isfinite

from fleet.catalogue.dimensions import find_unit
from fleet.catalogue.plausibility import COVERAGE_FACTORS, Implausible, value_problem

FOUND, LEFT, BOTH = "found", "left", "both"
CONDITIONS = {
    BOTH: "As found and as left (not adjusted)",
    FOUND: "As found, before adjustment",
    LEFT: "As left, after adjustment",
}
NEAR = 1e-9  # relative: below it two figures of a certificate are the same
MOST_POINTS = 60  # of one scale on one certificate
BEYOND = 0.1  # of the span: how far outside its scale a reading may lie


class Verdict(StrEnum):
    """Whether an error lies within the accuracy; the uncertainty decides how surely.

    Source: ILAC-G8:09/2019, guard band of one expanded uncertainty.
    """

    WITHIN = "within"
    DOUBTFUL_WITHIN = "within, not surely"
    DOUBTFUL_OUTSIDE = "outside, not surely"
    OUTSIDE = "outside"


WORST_LAST = tuple(Verdict)


@dataclass(frozen=True, slots=True)
class Point:
    """One point of a certificate, all in one unit.

    reference  the true value, as the laboratory states it
    reading    what the instrument showed there
    expanded   expanded uncertainty of the error, above zero, with coverage factor k
    condition  FOUND, LEFT, or BOTH where nothing was adjusted
    """

    reference: float
    reading: float
    expanded: float
    k: float = 2.0
    condition: str = BOTH

    @property
    def error(self) -> float:
        """Return reading less reference. Source: JCGM 200:2012, 2.16 and 4.20."""
        return self.reading - self.reference

    @property
    def std(self) -> float:
        return self.expanded / self.k

    @property
    def is_found(self) -> bool:
        return self.condition in (FOUND, BOTH)

    @property
    def is_left(self) -> bool:
        return self.condition in (LEFT, BOTH)

    def is_same(self, other: "Point") -> bool:
        """Return whether another point says the same, but for the rounding of units."""
        mine, others = ((one.reference, one.reading, one.expanded, one.k) for one in (self, other))
        return self.condition == other.condition and all(map(is_near, mine, others))


@dataclass(frozen=True, slots=True)
class ScalePoints:
    """The points of one scale, which `scale` names by its key, in the unit in which they were entered."""

    scale: int
    unit: str
    points: tuple[Point, ...]

    @property
    def found(self) -> tuple[Point, ...]:
        return tuple(point for point in self.points if point.is_found)

    @property
    def left(self) -> tuple[Point, ...]:
        return tuple(point for point in self.points if point.is_left)

    def in_unit(self, unit: str) -> "ScalePoints":
        """Return the points in another unit of the same dimension; as they are where the units are the same."""
        if unit == self.unit:
            return self
        own, other = _unit(self.unit), _unit(unit)
        factor, shift = own.factor / other.factor, (own.zero - other.zero) / other.factor
        points = [
            Point(one.reference * factor + shift, one.reading * factor + shift, one.expanded * factor, one.k,
                  one.condition)
            for one in self.points
        ]  # fmt: skip
        return ScalePoints(self.scale, unit, tuple(points))

    def as_stored(self) -> dict:
        names = ("reference", "reading", "expanded", "k", "condition")
        points = [{name: getattr(point, name) for name in names} for point in self.points]
        return {"scale": self.scale, "unit": self.unit, "points": points}


def stored_points(stored: Iterable[Mapping]) -> list[ScalePoints]:
    """Return the points that a calibration holds, one ScalePoints for each scale."""
    return [ScalePoints(one["scale"], one["unit"], tuple(Point(**point) for point in one["points"])) for one in stored]


def from_error(reference: float, error: float) -> float:
    """Return the reading of an instrument from its error, without the noise of binary figures."""
    return float(f"{reference + error:.12g}")


def point_problems(point: Point, unit: str) -> Iterator[tuple[str, float, Implausible]]:
    """Yield (field, value, problem) of each figure of a point that cannot be of a certificate."""
    for name in ("reference", "reading"):
        value = getattr(point, name)
        if problem := value_problem(value, unit):
            yield name, value, problem
    if not (isfinite(point.expanded) and point.expanded > 0):
        yield "expanded", point.expanded, Implausible("is not accepted as an expanded uncertainty.", "more than 0")
    least, most = COVERAGE_FACTORS
    if not least <= point.k <= most:
        yield "k", point.k, Implausible("is no coverage factor.", f"{least:g} to {most:g}")


def is_off_scale(reading: float, low: float, high: float) -> bool:
    """Return whether a reading lies further outside a scale than a certificate states readings of it."""
    slack = BEYOND * (high - low)
    return not low - slack <= reading <= high + slack


def verdict_of(point: Point, allowed: float) -> Verdict:
    """Return whether the error of a point lies within +/-allowed, in the unit of the point."""
    size, slack = abs(point.error), NEAR * max(allowed, abs(point.reading), point.expanded)
    if size + point.expanded <= allowed + slack:
        return Verdict.WITHIN
    if size <= allowed + slack:
        return Verdict.DOUBTFUL_WITHIN
    return Verdict.OUTSIDE if size - point.expanded > allowed + slack else Verdict.DOUBTFUL_OUTSIDE


def worst(verdicts: Iterable[Verdict]) -> Verdict | None:
    """Return the worst of several verdicts, None for none."""
    return max(verdicts, key=WORST_LAST.index, default=None)


def merged(points: Sequence[Point]) -> list[tuple[float, float, float, float]]:
    """Return (reading, error, standard uncertainty, half spread) at each reference value, the lowest first.

    A reference value that was approached from both sides gives one point: the mean of its errors, with half their
    spread (hysteresis).
    """
    groups: list[list[Point]] = []
    for point in sorted(points, key=lambda one: one.reference):
        if groups and is_near(groups[-1][0].reference, point.reference):
            groups[-1].append(point)
        else:
            groups.append([point])
    return [_mean(group) for group in groups]


def _mean(group: Sequence[Point]) -> tuple[float, float, float, float]:
    errors, count = [point.error for point in group], len(group)
    spread = (max(errors) - min(errors)) / 2
    return sum(p.reading for p in group) / count, sum(errors) / count, max(p.std for p in group), spread


def is_near(one: float, other: float) -> bool:
    """Return whether two figures of a certificate are the same."""
    return abs(one - other) <= NEAR * max(abs(one), abs(other))


def _unit(symbol: str):
    found = find_unit(symbol)
    if found is None:
        raise ValueError(f"{symbol!r} is not a unit of the table.")
    return found[1]
