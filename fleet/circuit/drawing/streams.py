"""Computes the flow in each segment of each line from the flows through the components at its ends."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

from fleet.catalogue import GASES
from fleet.circuit.drawing.gas_lines import gas_of
from fleet.circuit.drawing.lanes import MIXED
from fleet.circuit.drawing.nets import Net, nets_of
from fleet.circuit.drawing.ports import is_pilot, is_sink
from fleet.circuit.drawing.wires import Point, Wire
from fleet.circuit.elements.base import ROOM
from fleet.circuit.gases import ROOM_AIR, Mix
from fleet.circuit.solution import Solution
from fleet.circuit.structure import Circuit, Connection, Port

NOTICED_M3_S = 1e-3 / 60_000  # 1 mL/min: less is drawn as no flow
PRESSED_PA = 10_000.0  # a line above this pressure is under supply pressure
GAP = 0.22  # fraction of a segment on either side of a disconnection


@dataclass(frozen=True, slots=True)
class Stretch:
    """A straight segment of a line: flow m3/s from start to end, 0 for no flow, None if nothing is solved.

    gas  code of its gas, MIXED for a mixture
    """

    start: Point
    end: Point
    flow_m3_s: float | None
    gas: str
    is_pilot: bool = False

    @property
    def flows(self) -> bool:
        return self.flow_m3_s is None or self.flow_m3_s > NOTICED_M3_S


@dataclass(frozen=True, slots=True)
class Stream:
    """All segments of one net, and the gaps (from, to) of disconnections."""

    wire: Wire
    stretches: tuple[Stretch, ...]
    gaps: tuple[tuple[Point, Point], ...] = ()


@dataclass(frozen=True, slots=True)
class _Source:
    """The flow into a net at a point, m3/s, negative if it leaves, and its mixture."""

    flow: float
    mix: Mix


def drawn_streams(circuit: Circuit, wires: Sequence[Wire], lanes: Mapping[str, str]) -> tuple[Stream, ...]:
    """Return the streams of an unsolved circuit: ordinary gas and direction."""
    components = {component.code: component for component in circuit.components}

    def given(port: Port) -> str | None:
        component = components[port.component]
        if is_sink(component, port.name) or is_pilot(component, port.name):
            return None
        own = port.name.rsplit("-", 1)[0]
        return own if own in GASES else lanes[port.component] if lanes[port.component] in GASES else MIXED

    return tuple(Stream(wire, tuple(_ordinary(wire, edge, given, components) for edge in wire.edges)) for wire in wires)


def _ordinary(wire: Wire, edge: tuple[Point, Point], given, components) -> Stretch:
    near = _side(wire.edges, edge[0], edge)
    sides = [[], []]
    for port, point in wire.ends.items():
        sides[point not in near].append(port)
    gases = [{gas for port in side if (gas := given(port))} for side in sides]
    has_sink = [any(given(port) is None for port in side) for side in sides]
    is_turned = has_sink[0] and not has_sink[1]
    upstream = gases[is_turned] if has_sink[0] != has_sink[1] else gases[0] | gases[1]
    gas = next(iter(upstream)) if len(upstream) == 1 else MIXED
    start, end = edge[::-1] if is_turned else edge
    pilots = [all(is_pilot(components[port.component], port.name) for port in side) and bool(side) for side in sides]
    return Stretch(start, end, None, gas, any(pilots))


def _side(edges, start: Point, barred) -> set[Point]:
    """Return the points that are reached from a point without the barred edge."""
    near = _neighbours(edge for edge in edges if edge != barred)
    found, waiting = {start}, [start]
    while waiting:
        new = near.get(waiting.pop(), set()) - found
        found |= new
        waiting += new
    return found


def _neighbours(edges) -> dict[Point, set[Point]]:
    near: dict[Point, set[Point]] = {}
    for one, other in edges:
        near.setdefault(one, set()).add(other)
        near.setdefault(other, set()).add(one)
    return near


def solved_streams(solution: Solution, wires: Sequence[Wire], ordinary: Sequence[Stream]) -> tuple[Stream, ...]:
    """Return the streams of a solved circuit; the wires may include connections that the state adds.

    ordinary  the streams of the same wires unsolved, which give the gas of lines without flow
    """
    entering = _entering(solution)
    made = {connection: _through_made(solution, connection, entering) for connection in solution.state.made}
    return tuple(_stream(solution, wire, entering, made, drawn) for wire, drawn in zip(wires, ordinary, strict=True))


def _entering(solution: Solution) -> dict[Port, _Source]:
    """Return the flow from each component into the net at each of its ports, without open ends."""
    found: dict[Port, list[tuple[float, Mix]]] = {}
    for flow in solution.flows.values():
        if flow.name.startswith("open ") and ROOM in (flow.a, flow.b):
            continue
        found.setdefault(flow.a, []).append((-flow.value_m3_s, flow.mix))
        found.setdefault(flow.b, []).append((flow.value_m3_s, flow.mix))
    return {port: _Source(sum(value for value, _ in flows), _blend(flows)) for port, flows in found.items()}


def _blend(flows: Sequence[tuple[float, Mix]]) -> Mix:
    """Return the mixture of the inflows; without inflow, the mixture that is present."""
    coming = [(value, mix) for value, mix in flows if value > 0] or [(1.0, mix) for _, mix in flows]
    total = sum(value for value, _ in coming)
    columns = zip(*(mix.fractions for _, mix in coming), strict=True)
    return Mix(tuple(sum(v * x for (v, _), x in zip(coming, column, strict=True)) / total for column in columns))


def _through_made(solution: Solution, connection: Connection, entering: Mapping[Port, _Source]) -> float:
    """Return the flow through a connection that the state adds, m3/s from source to target."""
    others = {*solution.circuit.connections, *solution.state.made} - solution.state.cut - {connection}
    side = next((net.ports for net in nets_of(others) if connection.source in net.ports), (connection.source,))
    return sum(entering[port].flow for port in side if port in entering)


def _stream(solution: Solution, wire: Wire, entering, made: Mapping[Connection, float], drawn: Stream) -> Stream:
    net = wire.route.net
    off = _off(net, solution.state.cut)
    edges, gaps = list(wire.edges), []
    sources = {wire.ends[port]: _at(port, net, entering, made) for port in wire.ends}
    for port in sorted(off & wire.ends.keys()):
        gap = _cut(edges, wire.ends[port])
        gaps.append(gap)
    sources |= _spilled(edges, sources, [end for gap in gaps for end in gap])
    still = _still(solution, net, drawn)
    flows = _flows(edges, sources)
    stretches = tuple(_stretch(edge, flow, flows, sources, still) for edge, flow in flows.items())
    return Stream(wire, stretches, tuple(gaps))


def _off(net: Net, cut: frozenset[Connection]) -> set[Port]:
    """Return the ports that are separated from most of the net by an open connection."""
    if net.is_made or cut.isdisjoint(net.connections):
        return set()
    whole = [set(piece.ports) for piece in nets_of(set(net.connections) - cut)]
    pieces = whole + [{port} for port in net.ports if not any(port in piece for piece in whole)]
    most = max(pieces, key=lambda piece: (len(piece), -net.ports.index(min(piece))))
    return set(net.ports) - most


def _at(port: Port, net: Net, entering: Mapping[Port, _Source], made: Mapping[Connection, float]) -> _Source:
    """Return the flow into this net at a port, less the flow of a connection that the state adds."""
    own = entering.get(port, _Source(0.0, ROOM_AIR))
    if net.is_made:
        flow = made[net.connections[0]]
        return _Source(flow if port == net.connections[0].source else -flow, own.mix)
    led_off = sum(flow * ((port == connection.source) - (port == connection.target)) for connection, flow in made.items())
    return _Source(own.flow - led_off, own.mix)


def _cut(edges: list, end: Point) -> tuple[Point, Point]:
    """Remove a piece from the segment that ends at a port; return its two ends, the port's side last."""
    edge = next(edge for edge in edges if end in edge)
    other = edge[0] if edge[1] == end else edge[1]
    gap = _between(other, end, 0.5 - GAP), _between(other, end, 0.5 + GAP)
    edges.remove(edge)
    edges += [(other, gap[0]), (gap[1], end)]
    return gap


def _between(one: Point, other: Point, share: float) -> Point:
    return tuple(round(a + (b - a) * share, 3) for a, b in zip(one, other, strict=True))


def _spilled(edges, sources: Mapping[Point, _Source], ends: Sequence[Point]) -> dict[Point, _Source]:
    """Return the flow in or out at open ends, so that each piece of a net is balanced."""
    found = {}
    for end in ends:
        points = _side(edges, end, None)
        rest = sum(sources[point].flow for point in points if point in sources)
        done = any(point in found for point in points)
        found[end] = _Source(0.0 if done else -rest, ROOM_AIR)
    return found


def _flows(edges, sources: Mapping[Point, _Source]) -> dict[tuple[Point, Point], float]:
    """Return the flow along each edge of a tree, from its first point to its second, from the leaves inwards."""
    near, balance = _neighbours(edges), {point: source.flow for point, source in sources.items()}
    flows: dict[tuple[Point, Point], float] = {}
    leaves = sorted(point for point, others in near.items() if len(others) == 1)
    known = set(edges)
    while leaves:
        leaf = leaves.pop()
        if len(near[leaf]) != 1:
            continue
        other = near[leaf].pop()
        near[other].discard(leaf)
        value = balance.get(leaf, 0.0)
        balance[other] = balance.get(other, 0.0) + value
        flows[(leaf, other) if (leaf, other) in known else (other, leaf)] = value if (leaf, other) in known else -value
        if len(near[other]) == 1:
            leaves.append(other)
    return dict(sorted(flows.items()))


def _still(solution: Solution, net: Net, drawn: Stream) -> Callable[[Point, Point], str]:
    """Return the gas of a segment without flow: under supply pressure the gas present, else its own."""
    own = {frozenset((stretch.start, stretch.end)): stretch.gas for stretch in drawn.stretches}
    there = gas_of(solution.mixes.get(net.ports[0], ROOM_AIR))
    pressure = solution.pressures_pa_abs.get(net.ports[0], 0.0) - solution.circuit.ambient_pa_abs
    if pressure > PRESSED_PA and there != MIXED:
        return lambda start, end: there
    usual = drawn.stretches[0].gas
    return lambda start, end: own.get(frozenset((start, end)), usual)


def _stretch(edge, flow: float, flows, sources: Mapping[Point, _Source], still) -> Stretch:
    start, end = edge if flow >= 0 else edge[::-1]
    if abs(flow) <= NOTICED_M3_S:
        return Stretch(start, end, 0.0, still(start, end))
    return Stretch(start, end, abs(flow), gas_of(_upstream(start, flows, sources)))


def _upstream(point: Point, flows, sources: Mapping[Point, _Source]) -> Mix:
    """Return the mixture of the inflows at a point."""
    coming = [(sources[point].flow, sources[point].mix)] if point in sources and sources[point].flow > 0 else []
    for (one, other), flow in flows.items():
        if (other == point and flow > 0) or (one == point and flow < 0):
            coming.append((abs(flow), _upstream(one if other == point else other, flows, sources)))
    return _blend(coming) if coming else ROOM_AIR
