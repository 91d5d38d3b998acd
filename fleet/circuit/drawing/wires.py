"""The nets as lines on the sheet: a tree of points for each net."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from fleet.circuit.drawing.ports import LEFT, TOP
from fleet.circuit.drawing.routing import Route, Terminal, Trunk
from fleet.circuit.drawing.sheet import BODY_H, BODY_W, Sheet
from fleet.circuit.drawing.tracks import Tracks
from fleet.circuit.structure import Port

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Wire:
    """A net on the sheet.

    ends   where it meets each of its ports
    edges  straight segments between two points, vertical or horizontal, which form a tree
    """

    route: Route
    ends: Mapping[Port, Point]
    edges: tuple[tuple[Point, Point], ...]

    @property
    def knots(self) -> tuple[Point, ...]:
        """Points where three or more segments meet."""
        counts: dict[Point, int] = {}
        for edge in self.edges:
            for point in edge:
                counts[point] = counts.get(point, 0) + 1
        return tuple(sorted(point for point, count in counts.items() if count > 2))


@dataclass
class _Lines:
    """Points grouped by the line on which they are."""

    level: dict[tuple, set[Point]] = field(default_factory=dict)
    upright: dict[tuple, set[Point]] = field(default_factory=dict)

    def edges(self) -> tuple[tuple[Point, Point], ...]:
        found = set()
        for points in (*self.level.values(), *self.upright.values()):
            ordered = sorted(points)
            found |= set(zip(ordered, ordered[1:], strict=False))
        return tuple(sorted(found))


def wired(routes: Sequence[Route], tracks: Tracks, sheet: Sheet) -> tuple[Wire, ...]:
    """Return every net as lines, in the order of the routes."""
    return tuple(_wire(number, route, tracks, sheet) for number, route in enumerate(routes))


def _wire(number: int, route: Route, tracks: Tracks, sheet: Sheet) -> Wire:
    lines, ends = _Lines(), {}
    rises = {gutter: _rounded(sheet.track_x(gutter, tracks.in_gutters[number, gutter])) for gutter in route.rises}
    for terminal in route.terminals:
        point = ends[terminal.port] = _end(terminal, sheet)
        if terminal.side == TOP:
            _add_top(lines, point, terminal, number, tracks, sheet)
        else:
            _add_side(lines, point, terminal, route, rises)
    for channel, gutter in route.tops.items():
        y = _rounded(sheet.track_y(channel, tracks.in_channels[number, channel]))
        _join(lines, ("channel", channel), ("gutter", gutter), (rises[gutter], y))
    for trunk in route.trunks:
        _add_trunk(lines, trunk, number, rises, tracks, sheet)
    return Wire(route, ends, lines.edges())


def _rounded(value: float) -> float:
    return round(value, 3)


def _end(terminal: Terminal, sheet: Sheet) -> Point:
    x, y = sheet.columns[terminal.column], sheet.rows[terminal.row]
    if terminal.side == TOP:
        return _rounded(x + terminal.lift), _rounded(y + BODY_H / 2)
    return _rounded(x + (-BODY_W / 2 if terminal.side == LEFT else BODY_W / 2)), _rounded(y + terminal.lift)


def _join(lines: _Lines, level, upright, point: Point) -> None:
    """Put a point on a horizontal and on a vertical line."""
    lines.level.setdefault(level, set()).add(point)
    lines.upright.setdefault(upright, set()).add(point)


def _add_top(lines: _Lines, point: Point, terminal: Terminal, number: int, tracks: Tracks, sheet: Sheet) -> None:
    y = _rounded(sheet.track_y(terminal.row, tracks.in_channels[number, terminal.row]))
    upright = ("top", terminal.port)
    lines.upright.setdefault(upright, set()).add(point)
    _join(lines, ("channel", terminal.row), upright, (point[0], y))


def _add_side(lines: _Lines, point: Point, terminal: Terminal, route: Route, rises: Mapping[int, float]) -> None:
    height = 2 * terminal.row + 1
    on_trunk = not terminal.lift and any(
        height == trunk.ordinal and terminal.gutter in trunk.gutters for trunk in route.trunks
    )
    level = ("row", terminal.row) if on_trunk else ("gutter", terminal.row, terminal.gutter, terminal.lift)
    lines.level.setdefault(level, set()).add(point)
    if terminal.gutter in rises:
        _join(lines, level, ("gutter", terminal.gutter), (rises[terminal.gutter], point[1]))


def _add_trunk(lines: _Lines, trunk: Trunk, number: int, rises: Mapping[int, float], tracks, sheet) -> None:
    row, is_middle = divmod(trunk.ordinal, 2)
    if is_middle:
        level, y = ("row", row), _rounded(sheet.rows[row])
    else:
        level, y = ("channel", row), _rounded(sheet.track_y(row, tracks.in_channels[number, row]))
    for gutter in sorted(trunk.gutters & rises.keys()):
        _join(lines, level, ("gutter", gutter), (rises[gutter], y))
