"""Which way each net takes between the parts: along channels between rows, up and down gutters between columns.

Gutter g lies left of column g, channel h above row h. Ordinals count both: a row r is 2r + 1, a channel h is 2h;
a column c is 2c + 1, a gutter g is 2g. Nets that share a stretch get tracks of their own, so no two overlap.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from fleet.circuit.drawing.nets import Net
from fleet.circuit.drawing.placing import Grid
from fleet.circuit.drawing.ports import LEFT, TOP, port_order, side_of
from fleet.circuit.parts import Circuit, Port

SPREAD = 11.0  # between ports on one side of a part, points
NUDGES = (0.0, 6.0, -6.0, 12.0, -12.0, 3.0, -3.0, 9.0, -9.0, 15.0, -15.0)
NEAR = 2.9


@dataclass(frozen=True, slots=True)
class Terminal:
    """Where a net meets a part: on a side, `lift` points above its middle; on top, as far right of its middle."""

    port: Port
    row: int
    column: int
    side: str
    lift: float = 0.0

    @property
    def gutter(self) -> int:
        return self.column if self.side == LEFT else self.column + 1


@dataclass(frozen=True, slots=True)
class Trunk:
    """The level that joins the gutters of a net: a channel, or the middle of a row whose cells are empty there."""

    ordinal: int  # as of rows and channels

    @property
    def is_channel(self) -> bool:
        return self.ordinal % 2 == 0


@dataclass(frozen=True, slots=True)
class Route:
    """The way of one net.

    rises   by gutter, the ordinals that its vertical reaches; none where it passes straight
    levels  by channel, the reach from left to right as ordinals of columns and gutters
    tops    by channel that is not the trunk's, the gutter at which its terminals on top come down or up
    """

    net: Net
    terminals: tuple[Terminal, ...]
    trunk: Trunk | None
    rises: Mapping[int, tuple[int, int]]
    levels: Mapping[int, tuple[int, int]]
    tops: Mapping[int, int]


@dataclass
class _Plan:
    """What is taken while nets are routed."""

    rows: int
    between: frozenset[int]  # channels between two lanes
    cells: set[tuple[int, int]]
    heads: dict[tuple[int, int], list[tuple[int, str, float]]] = field(default_factory=dict)


def terminals_of(circuit: Circuit, grid: Grid, nets: Iterable[Net]) -> list[tuple[Terminal, ...]]:
    """Return the terminals of each net; ports of one side stand apart, and none faces another net's at its height."""
    parts = {part.code: part for part in circuit.parts}
    ports = sorted(
        {port for net in nets for port in net.ports if port.part in parts}, key=lambda p: (p.part, port_order(p))
    )
    sides: dict[tuple[str, str], list[Port]] = {}
    for port in ports:
        side = side_of(parts[port.part], port.name, grid.places[port.part].is_mirrored)
        sides.setdefault((port.part, side), []).append(port)
    found: dict[Port, Terminal] = {}
    for (code, side), shared in sides.items():
        place = grid.places[code]
        for index, port in enumerate(shared):
            lift = (max(len(shared) - 2, 0) - index) * SPREAD  # the first of two, the second of three in the middle
            found[port] = Terminal(port, place.row, place.column, side, lift)
    return _apart([[found[port] for port in net.ports if port in found] for net in nets])


def _apart(groups: list[list[Terminal]]) -> list[tuple[Terminal, ...]]:
    """Move terminals off the height at which another net already meets the same gutter."""
    taken: dict[tuple[int, str, int], list[tuple[int, float]]] = {}
    moved: dict[int, list[Terminal]] = {index: [] for index in range(len(groups))}
    for index in sorted(range(len(groups)), key=lambda index: (not _is_straight(groups[index]), index)):
        for terminal in groups[index]:
            meeting = ("top", terminal.column) if terminal.side == TOP else ("side", terminal.gutter)
            known = taken.setdefault((terminal.row, *meeting), [])
            lift = _free_height(terminal.lift, [other for net, other in known if net != index])
            known.append((index, lift))
            moved[index].append(Terminal(terminal.port, terminal.row, terminal.column, terminal.side, lift))
    return [tuple(moved[index]) for index in range(len(groups))]


def _is_straight(group: list[Terminal]) -> bool:
    """Whether a net goes from a part to the next one in its row, at one height."""
    return len({(terminal.row, terminal.gutter, terminal.lift) for terminal in group}) == 1


def _free_height(lift: float, others: list[float]) -> float:
    heights = [lift + nudge for nudge in NUDGES]
    return next((h for h in heights if all(abs(h - other) > NEAR for other in others)), lift)


def routed(circuit: Circuit, grid: Grid, nets: Iterable[Net]) -> tuple[Route, ...]:
    """Return the route of each net that meets a part, in the order of the nets."""
    nets = tuple(nets)
    groups = terminals_of(circuit, grid, nets)
    plan = _Plan(
        grid.rows,
        frozenset(strip.first for strip in grid.strips),
        {(place.row, place.column) for place in grid.places.values()},
    )
    for index, group in enumerate(groups):
        for terminal in group:
            if terminal.side != TOP:
                plan.heads.setdefault((terminal.row, terminal.gutter), []).append((index, terminal.side, terminal.lift))
    order = sorted((index for index in range(len(nets)) if groups[index]), key=lambda i: (_span(groups[i]), i))
    routes = {index: _route(index, nets[index], groups[index], plan) for index in order}
    return tuple(routes[index] for index in sorted(routes))


def _span(group: tuple[Terminal, ...]) -> int:
    rows, columns = [t.row for t in group], [t.column for t in group]
    return max(rows) - min(rows) + max(columns) - min(columns)


def _route(index: int, net: Net, group: tuple[Terminal, ...], plan: _Plan) -> Route:
    gutters = sorted({terminal.gutter for terminal in group if terminal.side != TOP})
    if len(gutters) == 1 and all(terminal.side != TOP for terminal in group):
        return Route(net, group, None, _rises(group, None, {}), {}, {})
    options = [_option(group, Trunk(ordinal), plan.between) for ordinal in range(2 * plan.rows + 1)]
    options = [option for option in options if _may_pass(index, option[1], _reach(group, option[2]), plan)]
    _, trunk, tops = min(options, key=lambda option: (option[0], -option[1].ordinal))
    if not trunk.is_channel:
        first, last = _reach(group, tops)
        plan.cells |= {(trunk.ordinal // 2, column) for column in range(first, last)}
    return Route(net, group, trunk, _rises(group, trunk, tops), _levels(group, trunk, tops), tops)


def _reach(group: tuple[Terminal, ...], tops: Mapping[int, int]) -> tuple[int, int]:
    """Return the first and the last gutter that a net uses."""
    gutters = [terminal.gutter for terminal in group if terminal.side != TOP] + list(tops.values())
    return min(gutters, default=0), max(gutters, default=0)


def _may_pass(index: int, trunk: Trunk, reach: tuple[int, int], plan: _Plan) -> bool:
    """Return whether a net may run at this level: channels always, the middle of a row where its cells are empty."""
    if trunk.is_channel:
        return True
    row, (first, last) = trunk.ordinal // 2, reach
    if first == last or any((row, column) in plan.cells for column in range(first, last)):
        return False
    ends = plan.heads.get((row, first), []) + plan.heads.get((row, last), [])
    return all(abs(lift) > NEAR for other, _, lift in ends if other != index)


def _option(group: tuple[Terminal, ...], trunk: Trunk, between: frozenset[int]):
    """Return (cost, trunk, tops): how far verticals reach, and how often the pipe bends."""
    tops = {}
    gutters = [terminal.gutter for terminal in group if terminal.side != TOP]
    centre = sum(gutters) / len(gutters) if gutters else 0
    for terminal in group:
        if terminal.side == TOP and 2 * terminal.row != trunk.ordinal and terminal.row not in tops:
            tops[terminal.row] = terminal.column + 1 if centre > terminal.column else terminal.column
    rises = _rises(group, trunk, tops)
    detour = (0.5 if trunk.ordinal // 2 in between else 0.75) if trunk.is_channel else 0
    bends = [t for t in group if t.side != TOP and (2 * t.row + 1, 0.0) != (trunk.ordinal, t.lift)]
    cost = sum(high - low for low, high in rises.values()) + 0.5 * (len(tops) + len(bends)) + detour
    return cost, trunk, tops


def _rises(group: tuple[Terminal, ...], trunk: Trunk | None, tops: Mapping[int, int]) -> dict[int, tuple[int, int]]:
    heights: dict[int, set[tuple[int, float]]] = {}
    for terminal in group:
        if terminal.side != TOP:
            heights.setdefault(terminal.gutter, set()).add((2 * terminal.row + 1, terminal.lift))
    for channel, gutter in tops.items():
        heights.setdefault(gutter, set()).add((2 * channel, 0.0))
    if trunk:
        for reached in heights.values():
            reached.add((trunk.ordinal, 0.0))
    return {g: (min(found)[0], max(found)[0]) for g, found in heights.items() if len(found) > 1}


def _levels(group: tuple[Terminal, ...], trunk: Trunk, tops: Mapping[int, int]) -> dict[int, tuple[int, int]]:
    reach: dict[int, set[int]] = {}
    for terminal in group:
        if terminal.side == TOP:
            reach.setdefault(terminal.row, set()).add(2 * terminal.column + 1)
    for channel, gutter in tops.items():
        reach[channel].add(2 * gutter)
    if trunk.is_channel:
        gutters = {2 * t.gutter for t in group if t.side != TOP} | {2 * gutter for gutter in tops.values()}
        reach.setdefault(trunk.ordinal // 2, set()).update(gutters)
    return {channel: (min(found), max(found)) for channel, found in reach.items()}
