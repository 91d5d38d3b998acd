"""Points of a certificate as they are typed or pasted: one a line, from a table, a CSV file or a spreadsheet."""

import re
from collections.abc import Iterable
from dataclasses import dataclass

from fleet.place_format import NumberRefused, number_text, read_number

from .points import BOTH, FOUND, LEFT, MOST_POINTS, Point, from_error, point_problems

CONDITION_WORDS = {"found": FOUND, "as found": FOUND, "left": LEFT, "as left": LEFT, "both": BOTH}
READING, ERROR = "reading", "error"


class PointRefused(ValueError):
    """A line that is not a point; the message names the line and what is accepted."""


@dataclass(frozen=True, slots=True)
class Typing:
    """How the lines are meant.

    unit       unit of every figure
    second     READING or ERROR: what the second figure of a line is
    expanded   expanded uncertainty of a line that has no third figure, None if every line states it
    k          coverage factor of a line that has no fourth figure
    condition  of a line that does not say it
    decimal    decimal sign of the place
    """

    unit: str
    second: str = READING
    expanded: float | None = None
    k: float = 2.0
    condition: str = BOTH
    decimal: str = "."


def typed_points(text: str, typing: Typing) -> tuple[Point, ...]:
    """Return the points of a text. Raises PointRefused.

    A line holds the reference value, the reading or error, and where it differs from what counts for all lines the
    expanded uncertainty, the coverage factor and “found”, “left” or “both”. Tabs, semicolons, or else commas with a
    space or spaces separate the cells; a comma alone does so where the place writes a decimal point. A first line
    without a figure is a heading.
    """
    lines = [(number, line.strip()) for number, line in enumerate(text.splitlines(), 1) if line.strip()]
    if lines and not re.search(r"\d", lines[0][1]):
        lines = lines[1:]
    if not lines:
        raise PointRefused("There is no point. Write one a line: reference value, then reading or error.")
    if len(lines) > MOST_POINTS:
        raise PointRefused(f"There are {len(lines)} points. Accepted: {MOST_POINTS} for each scale.")
    return tuple(_point(number, _cells(line, typing.decimal), typing) for number, line in lines)


def written_points(points: Iterable[Point], decimal: str = ".") -> str:
    """Return points as `typed_points` reads them, one a line with all that it holds."""
    return "\n".join(
        "; ".join([*(number_text(value, decimal) for value in (p.reference, p.reading, p.expanded, p.k)), p.condition])
        for p in points
    )


def _cells(line: str, decimal: str) -> list[str]:
    for separator in ("\t", ";"):
        if separator in line:
            return [cell.strip() for cell in line.split(separator)]
    if decimal == "." and "," in line:
        return [cell.strip() for cell in line.split(",")]
    line = re.sub(r"\bas (found|left)\b", r"\1", line)
    return [cell for cell in re.split(r",?\s+", line) if cell]


def _point(number: int, cells: list[str], typing: Typing) -> Point:
    cells = [cell for cell in cells if cell]
    condition = typing.condition
    if len(cells) > 2 and cells[-1].casefold() in CONDITION_WORDS:
        condition = CONDITION_WORDS[cells.pop().casefold()]
    if not 2 <= len(cells) <= 4:
        raise PointRefused(
            f"Line {number} has {len(cells)} figures. Accepted: reference value and {typing.second}, then if need be "
            "the expanded uncertainty, the coverage factor, and “found”, “left” or “both”."
        )
    reference, second, *rest = (_figure(number, cell, typing.decimal) for cell in cells)
    expanded = rest[0] if rest else typing.expanded
    k = rest[1] if len(rest) > 1 else typing.k
    reading = second if typing.second == READING else from_error(reference, second)
    point = Point(reference, reading, _stated(number, expanded), k, condition)
    _check(number, point, typing.unit)
    return point


def _figure(number: int, cell: str, decimal: str) -> float:
    try:
        return float(read_number(cell, decimal, exponent=True))
    except NumberRefused as error:
        raise PointRefused(f"Line {number}: {error}") from None


def _stated(number: int, expanded: float | None) -> float:
    if expanded is None:
        raise PointRefused(
            f"Line {number} states no uncertainty. Write it as the third figure, or once for all lines in its field."
        )
    return expanded


def _check(number: int, point: Point, unit: str) -> None:
    for name, value, problem in point_problems(point, unit):
        raise PointRefused(f"Line {number}: {problem.of(f'{value:g}' if name == 'k' else f'{value:g} {unit}')}")
