"""Builds the network of junctions and branches for the solver from components and connections."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, fields, replace

from fleet.catalogue import COMPONENT_KINDS
from fleet.circuit.elements.base import DISPOSAL, ROOM, STORE, Boundary, Branch, Element, Plumbing
from fleet.circuit.flow import Stackable
from fleet.circuit.gases import ROOM_AIR, Mix
from fleet.circuit.solution import NoSolution
from fleet.circuit.state import State
from fleet.circuit.structure import Circuit, Connection, Port
from fleet.late import np
from tests.fleet.circuit.oracle import laws
from tests.fleet.circuit.oracle.flow import Flow

# An open end is as wide as a breathing hose: 100 L/min leaves at 10 Pa. Source: common practice, no source
OPEN_END_M3_S_PA = 100e-3 / 60 / 10
# Leak of components that are shut off on every side, which brings them to ambient pressure: below 0.03 mL/min at
# 400 kPa, less than any leak test of such a machine finds. Source: common practice, no source
SEAL_M3_S_PA = 1e-15


@dataclass(frozen=True, slots=True)
class Straight:
    """A branch with flow in proportion to the pressure across it: m3/s per Pa."""

    conductance: float

    def flow(self, a: float, b: float, mix_a: Mix, mix_b: Mix, pilots: tuple[float, ...]) -> Flow:
        return Flow(self.conductance * (a - b), self.conductance, -self.conductance)


def translated(law):
    """Return a law of the program as the law of that name here; any other law as it is."""
    kind = getattr(laws, type(law).__name__, None)
    if kind is None or not isinstance(law, Stackable):
        return law
    return kind(*(translated(getattr(law, field.name)) for field in fields(law)))


OPEN_END, SEAL = Straight(OPEN_END_M3_S_PA), Straight(SEAL_M3_S_PA)


@dataclass(frozen=True)
class Net:
    """The junctions of a circuit in one state, and the branches between them.

    number       junction number of each port; those below `free` have unknown pressures, the others are given
    given        pressure (Pa absolute) and gas of the junctions from `free` on, in order
    branches     with the code of their component, in order of component code and name
    ends         shape (branches, 2): junctions of a and b
    pilots       for each branch its pilot junctions
    taken_up     shape (branches,): fraction of the flow leaving at b that is vapour added on the way
    """

    number: Mapping[Port, int]
    names: Sequence[Port]
    free: int
    given: Sequence[tuple[float, Mix]]
    branches: Sequence[tuple[str, Branch]]
    ends: np.ndarray
    pilots: Sequence[tuple[int, ...]]
    taken_up: np.ndarray

    @property
    def size(self) -> int:
        return self.free + len(self.given)

    def place(self, junction: int) -> str:
        """Return a port of that junction, to name it in a message."""
        return str(self.names[junction])


class Groups:
    """Groups of ports: connected ports form one junction."""

    def __init__(self):
        self._above: dict = {}

    def find(self, item):
        above = self._above
        above.setdefault(item, item)
        while above[item] != item:
            above[item] = above[above[item]]
            item = above[item]
        return item

    def join(self, one, other):
        one, other = sorted((self.find(one), self.find(other)))
        self._above[other] = one

    def __iter__(self):
        return iter(sorted(self._above))


def build_net(circuit: Circuit, state: State, elements: Mapping[str, Element]) -> Net:
    """Return the network of a circuit with its elements, by component code, in their condition.

    Raises NoSolution if two pressures are given at one junction, or a connection leads to an unknown component.
    """
    plumbings = {code: elements[code].plumbing() for code in sorted(elements)}
    connections = connections_of(circuit, state)
    for connection in connections:
        for port in (connection.source, connection.target):
            if port.component not in elements:
                raise NoSolution(f"The connection {connection} leads to {port.component!r}, no component of {circuit}.")
    branches = [
        (code, replace(branch, law=translated(branch.law)))
        for code, plumbing in plumbings.items()
        for branch in plumbing.branches
    ]
    branches += open_ends(plumbings, elements, connections, loose_ends(state))
    groups = grouped(branches, connections)
    given = given_at(circuit, plumbings, groups)
    branches += seals(branches, groups, given)
    return numbered(branches, groups, given, circuit.ambient_pa_abs)


def connections_of(circuit: Circuit, state: State) -> list[Connection]:
    """Return the connections that are made in this state, each once, in sorted order."""
    there = {*(connection for connection in circuit.connections if connection not in state.cut), *state.made}
    return sorted(there, key=lambda connection: (connection.source, connection.target, connection.size))


def loose_ends(state: State) -> set[Port]:
    """Return the ports of disconnected connections that were not connected elsewhere."""
    return ends_of(state.cut) - ends_of(state.made)


def ends_of(connections: Iterable[Connection]) -> set[Port]:
    return {port for connection in connections for port in (connection.source, connection.target)}


def open_ends(
    plumbings: Mapping[str, Plumbing],
    elements: Mapping[str, Element],
    connections: Iterable[Connection],
    loose: set[Port],
) -> list[tuple[str, Branch]]:
    """Return a branch to the room for every disconnected port, and every port with a branch but no connection.

    A port with a given pressure, such as that of a pipeline inlet, is an end of the circuit and gets none.
    """
    joined, found = ends_of(connections), []
    for code, plumbing in plumbings.items():
        used = {port for branch in plumbing.branches for port in (branch.a, branch.b, *branch.pilots)}
        given = {boundary.port for boundary in plumbing.boundaries}
        for name in COMPONENT_KINDS[elements[code].kind].ports:
            port = Port(code, name)
            if port not in given and (port in loose or (port in used and port not in joined)):
                found.append((code, Branch(f"open {name}", port, ROOM, OPEN_END)))
    return found


def grouped(branches, connections) -> Groups:
    groups = Groups()
    for port in (ROOM, DISPOSAL, STORE):
        groups.find(port)
    for connection in connections:
        groups.join(connection.source, connection.target)
    for _, branch in branches:
        for port in (branch.a, branch.b, *branch.pilots):
            groups.find(port)
    return groups


def given_at(circuit: Circuit, plumbings: Mapping[str, Plumbing], groups: Groups) -> dict[Port, tuple[float, Mix]]:
    """Return the given pressures and gases of junctions, by the port that names the junction."""
    given = {groups.find(port): (circuit.ambient_pa_abs, ROOM_AIR) for port in (ROOM, DISPOSAL, STORE)}
    holders: dict[Port, Boundary] = {}
    for plumbing in plumbings.values():
        for boundary in plumbing.boundaries:
            junction = groups.find(boundary.port)
            if junction in given:
                other = holders[junction].port if junction in holders else "the room"
                raise NoSolution(
                    f"{boundary.port} and {other} are connected directly, and each has a pressure "
                    f"of its own. Insert a component between them."
                )
            given[junction] = (boundary.pressure_pa_abs, boundary.mix)
            holders[junction] = boundary
    return given


def seals(branches, groups: Groups, given) -> list[tuple[str, Branch]]:
    """Return a tiny leak for each set of junctions without a branch to a given pressure."""
    regions = Groups()
    for junction in given:
        regions.join(groups.find(ROOM), junction)
    for _, branch in branches:
        regions.join(groups.find(branch.a), groups.find(branch.b))
    room = regions.find(groups.find(ROOM))
    loose = sorted({regions.find(junction) for junction in regions} - {room})
    return [(port.component, Branch(f"seal {port.name}", port, ROOM, SEAL)) for port in loose]


def numbered(branches, groups: Groups, given, ambient: float) -> Net:
    """Return the network with the unknown junctions first. A junction without branches is at ambient pressure."""
    touched = {groups.find(port) for _, branch in branches for port in (branch.a, branch.b)}
    junctions = {groups.find(port) for port in groups}
    free = sorted(touched - set(given))
    fixed = [*sorted(given), *sorted(junctions - touched - set(given))]
    order = {junction: index for index, junction in enumerate([*free, *fixed])}
    number = {port: order[groups.find(port)] for port in groups}
    return Net(
        number=number,
        names=[*free, *fixed],
        free=len(free),
        given=[given.get(junction, (ambient, ROOM_AIR)) for junction in fixed],
        branches=branches,
        ends=np.array([(number[b.a], number[b.b]) for _, b in branches], dtype=int).reshape(-1, 2),
        pilots=[tuple(number[port] for port in b.pilots) for _, b in branches],
        taken_up=np.array([sum(share for _, share in b.adds) for _, b in branches]),
    )
