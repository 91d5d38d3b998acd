"""Routes each net between the components: along channels between rows, up and down gutters between columns.

Gutter g is left of column g, channel h above row h. Ordinals count both: a row r is 2r + 1, a channel h is 2h;
a column c is 2c + 1, a gutter g is 2g. Nets that share a segment get separate tracks, so no two overlap.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from fleet.circuit.drawing.nets import Net
from fleet.circuit.drawing.placing import Grid
from fleet.circuit.drawing.ports import LEFT, TOP, port_order, side_of
from fleet.circuit.structure import Circuit, Port

SPREAD = 11.0  # between ports on one side of a component, points
NUDGES = (0.0, 6.0, -6.0, 12.0, -12.0, 3.0, -3.0, 9.0, -9.0, 15.0, -15.0)
NEAR = 2.9


@dataclass(frozen=True, slots=True)
class Terminal:
    """Where a net meets a component: on a side, `lift` points above its middle; on top, as far right of its middle."""

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
    """The level that connects gutters of a net: a channel, or the middle of a row whose cells are empty there."""

    ordinal: int  # as of rows and channels
    gutters: frozenset[int] = frozenset()

    @property
    def is_channel(self) -> bool:
        return self.ordinal % 2 == 0


@dataclass(frozen=True, slots=True)
class Route:
    """The route of one net.

    trunks  none if all meet in one gutter; a second one leads from there to distant components
    rises   by gutter, the ordinals that its vertical reaches; none where it runs straight
    levels  by channel, the reach from left to right as ordinals of columns and gutters
    tops    by channel without trunk, the gutter at which its terminals on top come down or up
    """

    net: Net
    terminals: tuple[Terminal, ...]
    trunks: tuple[Trunk, ...]
    rises: Mapping[int, tuple[int, int]]
    levels: Mapping[int, tuple[int, int]]
    tops: Mapping[int, int]


@dataclass
class _Plan:
    """The space already used while nets are routed."""

    rows: int
    between: frozenset[int]  # channels between two lanes
    cells: set[tuple[int, int]]
    strips: Mapping[int, int]  # of each row
    heads: dict[tuple[int, int], list[tuple[int, str, float]]] = field(default_factory=dict)


def terminals_of(circuit: Circuit, grid: Grid, nets: Iterable[Net]) -> list[tuple[Terminal, ...]]:
    """Return the terminals of each net; ports of one side are spaced, and none faces another net's at its height."""
    components = {component.code: component for component in circuit.components}
    ports = sorted(
        {port for net in nets for port in net.ports if port.component in components}, key=lambda p: (p.component, port_order(p))
    )
    sides: dict[tuple[str, str], list[Port]] = {}
    for port in ports:
        side = side_of(components[port.component], port.name, grid.places[port.component].is_mirrored)
        sides.setdefault((port.component, side), []).append(port)
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
    """Whether a net goes from a component to the next one in its row, at one height."""
    return len({(terminal.row, terminal.gutter, terminal.lift) for terminal in group}) == 1


def _free_height(lift: float, others: list[float]) -> float:
    heights = [lift + nudge for nudge in NUDGES]
    return next((h for h in heights if all(abs(h - other) > NEAR for other in others)), lift)


def routed(circuit: Circuit, grid: Grid, nets: Iterable[Net]) -> tuple[Route, ...]:
    """Return the route of each net that meets a component, in the order of the nets."""
    nets = tuple(nets)
    groups = terminals_of(circuit, grid, nets)
    plan = _Plan(
        grid.rows,
        frozenset(strip.first for strip in grid.strips),
        {(place.row, place.column) for place in grid.places.values()},
        {row: strip.first for strip in grid.strips for row in range(strip.first, strip.last + 1)},
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
    if len({terminal.gutter for terminal in group}) == 1 and all(terminal.side != TOP for terminal in group):
        return Route(net, group, (), _rises(group, (), {}), {}, {})
    options = [_option(group, trunks, tops, plan.between) for trunks, tops in _ways(index, group, plan)]
    _, trunks, tops = min(options, key=lambda option: (option[0], [-trunk.ordinal for trunk in option[1]]))
    for trunk in trunks:
        if not trunk.is_channel:
            plan.cells |= {(trunk.ordinal // 2, column) for column in range(min(trunk.gutters), max(trunk.gutters))}
    return Route(net, group, trunks, _rises(group, trunks, tops), _levels(group, trunks, tops), tops)


def _ways(index: int, group: tuple[Terminal, ...], plan: _Plan):
    """Yield (trunks, tops) that a net may have.

    One trunk, or a straight one in the strip with most of its components, with a channel to the others.
    """
    for ordinal in range(2 * plan.rows + 1):
        tops = _tops(group, ordinal)
        trunk = Trunk(ordinal, frozenset(_gutters(group) | {*tops.values()}))
        if _may_pass(index, trunk, plan):
            yield (trunk,), tops
    near, far = _parted(group, plan)
    if not near or not far:
        return
    first = frozenset(terminal.gutter for terminal in near)
    for row in sorted({terminal.row for terminal in near}):
        straight = Trunk(2 * row + 1, first)
        if not _may_pass(index, straight, plan):
            continue
        for ordinal in range(0, 2 * plan.rows + 1, 2):
            tops = _tops(far, ordinal)
            beyond = (_gutters(far) | {*tops.values()}) - first
            hangs = any(terminal.side == TOP and 2 * terminal.row == ordinal for terminal in far)
            for gutter in sorted(first) if beyond or hangs else ():
                yield (straight, Trunk(ordinal, frozenset(beyond | {gutter}))), tops


def _parted(group: tuple[Terminal, ...], plan: _Plan):
    """Return the terminals at the sides of components in the strip that has most of them, and all others."""
    sides = [terminal for terminal in group if terminal.side != TOP]
    strips = [plan.strips[terminal.row] for terminal in sides]
    most = min(strips, key=lambda strip: (-strips.count(strip), strip), default=None)
    near = tuple(terminal for terminal in sides if plan.strips[terminal.row] == most)
    return near, tuple(terminal for terminal in group if terminal not in near)


def _gutters(group: tuple[Terminal, ...]) -> set[int]:
    """Return the gutters that terminals at the sides of components meet."""
    return {terminal.gutter for terminal in group if terminal.side != TOP}


def _tops(group: tuple[Terminal, ...], level: int) -> dict[int, int]:
    """Return, by channel that is not this level, the gutter at which terminals on top are led off."""
    gutters = [terminal.gutter for terminal in group if terminal.side != TOP]
    centre = sum(gutters) / len(gutters) if gutters else 0
    tops: dict[int, int] = {}
    for terminal in group:
        if terminal.side == TOP and 2 * terminal.row != level and terminal.row not in tops:
            tops[terminal.row] = terminal.column + 1 if centre > terminal.column else terminal.column
    return tops


def _may_pass(index: int, trunk: Trunk, plan: _Plan) -> bool:
    """Return whether a net may run at this level: channels always, the middle of a row where its cells are empty."""
    if trunk.is_channel:
        return True
    row, first, last = trunk.ordinal // 2, min(trunk.gutters), max(trunk.gutters)
    if first == last or any((row, column) in plan.cells for column in range(first, last)):
        return False
    ends = plan.heads.get((row, first), []) + plan.heads.get((row, last), [])
    return all(abs(lift) > NEAR for other, _, lift in ends if other != index)


def _option(group: tuple[Terminal, ...], trunks: tuple[Trunk, ...], tops: Mapping[int, int], between: frozenset[int]):
    """Return (cost, trunks, tops): the length of verticals, and the number of bends."""
    rises = _rises(group, trunks, tops)
    levels = {trunk.ordinal for trunk in trunks}
    detours = [0.5 if trunk.ordinal // 2 in between else 0.75 for trunk in trunks if trunk.is_channel]
    bends = [t for t in group if t.side != TOP and (t.lift or 2 * t.row + 1 not in levels)]
    cost = sum(high - low for low, high in rises.values()) + 0.5 * (len(tops) + len(bends)) + sum(detours)
    return cost, trunks, tops


def _rises(
    group: tuple[Terminal, ...], trunks: tuple[Trunk, ...], tops: Mapping[int, int]
) -> dict[int, tuple[int, int]]:
    heights: dict[int, set[tuple[int, float]]] = {}
    for terminal in group:
        if terminal.side != TOP:
            heights.setdefault(terminal.gutter, set()).add((2 * terminal.row + 1, terminal.lift))
    for channel, gutter in tops.items():
        heights.setdefault(gutter, set()).add((2 * channel, 0.0))
    for trunk in trunks:
        for gutter in trunk.gutters:
            heights.setdefault(gutter, set()).add((trunk.ordinal, 0.0))
    return {g: (min(found)[0], max(found)[0]) for g, found in heights.items() if len(found) > 1}


def _levels(
    group: tuple[Terminal, ...], trunks: tuple[Trunk, ...], tops: Mapping[int, int]
) -> dict[int, tuple[int, int]]:
    reach: dict[int, set[int]] = {}
    for terminal in group:
        if terminal.side == TOP:
            reach.setdefault(terminal.row, set()).add(2 * terminal.column + 1)
    for channel, gutter in tops.items():
        reach[channel].add(2 * gutter)
    for trunk in trunks:
        if trunk.is_channel:
            reach.setdefault(trunk.ordinal // 2, set()).update(2 * gutter for gutter in trunk.gutters)
    return {channel: (min(found), max(found)) for channel, found in reach.items()}
