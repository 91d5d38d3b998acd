"""Builds the network of junctions and branches for the solver from components and connections.

What depends on places alone, not on laws and pressures, is a Topology: many states of a circuit share it.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import chain

from fleet.catalogue import COMPONENT_KINDS
from fleet.circuit.elements.base import DISPOSAL, ROOM, STORE, Branch, Element, Flow
from fleet.circuit.flow import Stackable
from fleet.circuit.gases import ROOM_AIR, Mix
from fleet.circuit.solution import NoSolution
from fleet.circuit.stacking import LawBook
from fleet.circuit.state import State
from fleet.circuit.structure import Circuit, Connection, Port
from fleet.late import np

# An open end is as wide as a breathing hose: 100 L/min leaves at 10 Pa. Source: common practice, no source
OPEN_END_M3_S_PA = 100e-3 / 60 / 10
# Leak of components that are shut off on every side, which brings them to ambient pressure: below 0.03 mL/min at
# 400 kPa, less than any leak test of such a machine finds. Source: common practice, no source
SEAL_M3_S_PA = 1e-15
MOST_PILOTS = 2


@dataclass(frozen=True, slots=True)
class Straight(Stackable):
    """A branch with flow in proportion to the pressure across it: m3/s per Pa."""

    conductance: float

    def flow(self, a: float, b: float, mix_a: Mix, mix_b: Mix, pilots: tuple[float, ...]) -> Flow:
        return Flow(self.conductance * (a - b), self.conductance, -self.conductance)


OPEN_END, SEAL = Straight(OPEN_END_M3_S_PA), Straight(SEAL_M3_S_PA)


class Installed:
    """One component in its condition: its branches with the numbers of their laws in a book, and its given pressures.

    shape    what its place in the network depends on: ports of branches and of given pressures
    clears   for each branch whether gas leaves it without carbon dioxide
    content  all that a solution depends on
    """

    def __init__(self, element: Element, book: LawBook):
        plumbing = element.plumbing()
        self.element, self.code, self.kind = element, element.component.code, element.component.kind
        self.boundaries = plumbing.boundaries
        self.branches = tuple((self.code, branch) for branch in plumbing.branches)
        self.laws = tuple(book.number(branch.law) for branch in plumbing.branches)
        self.taken_up = tuple(sum(share for _, share in branch.adds) for branch in plumbing.branches)
        self.clears = tuple(element.clears_carbon_dioxide(branch) for branch in plumbing.branches)
        self.content = (self.code, plumbing, self.clears)
        self.shape = (
            self.code,
            tuple((branch.name, branch.a, branch.b, branch.pilots) for branch in plumbing.branches),
            tuple(boundary.port for boundary in plumbing.boundaries),
        )


@dataclass(frozen=True)
class Topology:
    """Junctions and branches without laws and pressures.

    number     junction number of each port; those below `free` have unknown pressures, the others are given
    names      a port of each junction
    given      for each junction from `free` on, the boundary that gives it, as (component code, port); None: the room
    added      branches that no component has, with a component code: open ends and seals
    ends       shape (branches, 2): junctions of a and b
    pilots     for each branch its pilot junctions
    keys       for each branch its component code and name
    """

    number: Mapping[Port, int]
    names: Sequence[Port]
    free: int
    given: Sequence[tuple[str, Port] | None]
    added: Sequence[tuple[str, Branch]]
    ends: np.ndarray
    pilots: Sequence[tuple[int, ...]]
    keys: Sequence[tuple[str, str]]
    between: Sequence[tuple[Port, Port]]

    @property
    def size(self) -> int:
        return len(self.names)

    @cached_property
    def steering(self) -> np.ndarray:
        """Pilot junctions, shape (branches, MOST_PILOTS), -1 for none."""
        table = np.full((len(self.pilots), MOST_PILOTS), -1)
        for k, pilots in enumerate(self.pilots):
            table[k, : len(pilots)] = pilots
        return table

    @cached_property
    def index(self) -> dict[tuple[str, str], int]:
        """The number of each branch, by component code and name."""
        return {key: k for k, key in enumerate(self.keys)}

    @cached_property
    def of_component(self) -> dict[str, list[tuple[str, str]]]:
        """The keys of the branches of each component."""
        found: dict[str, list] = {}
        for key in self.keys:
            found.setdefault(key[0], []).append(key)
        return found

    def ways_out(
        self, ports: tuple[Port, ...], components: frozenset[str] | None = None
    ) -> tuple[np.ndarray, np.ndarray]:
        """Return the branches of these components (default: all) to some ports; 1 if they lead there, -1 from there."""
        asked = ports, components
        if asked not in self._ways_out:
            found = [
                (k, 1.0 if b in ports else -1.0)
                for k, (a, b) in enumerate(self.between)
                if (a in ports or b in ports) and (components is None or self.keys[k][0] in components)
            ]
            numbers = np.array([k for k, _ in found], dtype=int)
            self._ways_out[asked] = numbers, np.array([direction for _, direction in found])
        return self._ways_out[asked]

    @cached_property
    def _ways_out(self) -> dict[tuple, tuple[np.ndarray, np.ndarray]]:
        return {}

    def at_port(self, port: Port) -> list[tuple[str, str]]:
        """Return the keys of the branches that begin or end at a port."""
        if port not in self._at_port:
            pairs = zip(self.keys, self.between, strict=True)
            self._at_port[port] = [key for key, ends in pairs if port in ends]
        return self._at_port[port]

    @cached_property
    def _at_port(self) -> dict[Port, list[tuple[str, str]]]:
        return {}

    @cached_property
    def junctions_of(self) -> dict[str, list[int]]:
        """The junctions at the ports of each component."""
        found: dict[str, list] = {}
        for port, junction in self.number.items():
            found.setdefault(port.component, []).append(junction)
        return found


@dataclass(frozen=True)
class Net:
    """The junctions of a circuit in one state, and the branches between them.

    given     pressure (Pa absolute) and gas of the junctions from `free` on, in order
    branches  with the code of their component, in order of component code and name
    laws      for each branch the number of its law in the book
    taken_up  shape (branches,): fraction of the flow leaving at b that is vapour added on the way
    clears    for each branch whether gas leaves it without carbon dioxide
    """

    topology: Topology
    given: Sequence[tuple[float, Mix]]
    branches: Sequence[tuple[str, Branch]]
    laws: np.ndarray
    taken_up: np.ndarray
    clears: np.ndarray
    book: LawBook

    @property
    def free(self) -> int:
        return self.topology.free

    @property
    def size(self) -> int:
        return self.topology.size

    def place(self, junction: int) -> str:
        """Return a port of that junction, to name it in a message."""
        return str(self.topology.names[junction])


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

    def found(self) -> dict:
        """Return for each item the first of its group."""
        return {item: self.find(item) for item in self._above}


class Connected:
    """The connections made in a state, and the ports that they join.

    root  for each joined port the first port of its junction; a port that is not in it is a junction of its own
    """

    def __init__(self, circuit: Circuit, state: State):
        self.connections = connections_of(circuit, state)
        self.joined, self.loose = ends_of(self.connections), loose_ends(state)
        groups = Groups()
        for port in (ROOM, DISPOSAL, STORE):
            groups.find(port)
        for connection in self.connections:
            groups.join(connection.source, connection.target)
        self.root: dict[Port, Port] = groups.found()
        self._open: dict[tuple, list] = {}

    def check(self, circuit: Circuit, codes: Iterable[str]) -> None:
        for connection in self.connections:
            for port in (connection.source, connection.target):
                if port.component not in codes:
                    raise NoSolution(
                        f"The connection {connection} leads to {port.component!r}, no component of {circuit}."
                    )

    def open_ends(self, one: Installed) -> list[tuple[str, Branch]]:
        """Return a branch to the room for every disconnected port, and every port with a branch but no connection.

        A port with a given pressure, such as that of a pipeline inlet, is an end of the circuit and gets none.
        """
        if one.shape not in self._open:
            used = {port for _, branch in one.branches for port in (branch.a, branch.b, *branch.pilots)}
            given = {boundary.port for boundary in one.boundaries}
            self._open[one.shape] = [
                (one.code, Branch(f"open {port.name}", port, ROOM, OPEN_END))
                for port in (Port(one.code, name) for name in COMPONENT_KINDS[one.kind].ports)
                if port not in given and (port in self.loose or (port in used and port not in self.joined))
            ]
        return self._open[one.shape]


def build_net(circuit: Circuit, state: State, elements: Mapping[str, Element]) -> Net:
    """Return the network of a circuit with its elements, by component code, in their condition.

    Raises NoSolution if two pressures are given at one junction, or a connection leads to an unknown component.
    """
    book = LawBook()
    installed = [Installed(elements[code], book) for code in sorted(elements)]
    connected = Connected(circuit, state)
    connected.check(circuit, elements)
    return assembled(topology_of(connected, installed), installed, circuit.ambient_pa_abs, book)


def assembled(topology: Topology, installed: Sequence[Installed], ambient: float, book: LawBook) -> Net:
    """Return a network from its topology and all components in order of their codes."""
    boundaries = {(one.code, each.port): each for one in installed for each in one.boundaries}
    given = [None if place is None else boundaries[place] for place in topology.given]
    more = len(topology.added)
    laws = [number for one in installed for number in one.laws]
    return Net(
        topology=topology,
        given=[(ambient, ROOM_AIR) if each is None else (each.pressure_pa_abs, each.mix) for each in given],
        branches=[*chain.from_iterable(one.branches for one in installed), *topology.added],
        laws=np.array([*laws, *(book.number(branch.law) for _, branch in topology.added)], dtype=int),
        taken_up=np.array([*chain.from_iterable(one.taken_up for one in installed), *[0.0] * more]),
        clears=np.array([*chain.from_iterable(one.clears for one in installed), *[False] * more], dtype=bool),
        book=book,
    )


def connections_of(circuit: Circuit, state: State) -> list[Connection]:
    """Return the connections that are made in this state, each once, in sorted order."""
    there = {*(connection for connection in circuit.connections if connection not in state.cut), *state.made}
    return sorted(there, key=lambda connection: (connection.source, connection.target, connection.size))


def loose_ends(state: State) -> set[Port]:
    """Return the ports of disconnected connections that were not connected elsewhere."""
    return ends_of(state.cut) - ends_of(state.made)


def ends_of(connections: Iterable[Connection]) -> set[Port]:
    return {port for connection in connections for port in (connection.source, connection.target)}


def topology_of(connected: Connected, installed: Sequence[Installed]) -> Topology:
    """Return junctions and branches. Raises NoSolution if two pressures are given at one junction."""
    branches = [*chain.from_iterable(one.branches for one in installed)]
    added = [*chain.from_iterable(connected.open_ends(one) for one in installed)]
    branches += added
    root = dict(connected.root)
    for _, branch in branches:
        for port in (branch.a, branch.b, *branch.pilots):
            root.setdefault(port, port)
    for one in installed:
        for boundary in one.boundaries:
            root.setdefault(boundary.port, boundary.port)
    given = given_at(installed, root)
    sealed = seals(branches, root, given)
    return numbered([*branches, *sealed], [*added, *sealed], root, given)


def given_at(installed: Sequence[Installed], root: Mapping[Port, Port]) -> dict[Port, tuple[str, Port] | None]:
    """Return the junctions with given pressure, by the port that names them, with the boundary that gives it."""
    given: dict[Port, tuple[str, Port] | None] = {root[port]: None for port in (ROOM, DISPOSAL, STORE)}
    for one in installed:
        for boundary in one.boundaries:
            junction = root[boundary.port]
            if junction in given:
                other = given[junction][1] if given[junction] else "the room"
                raise NoSolution(
                    f"{boundary.port} and {other} are connected directly, and each has a pressure "
                    f"of its own. Insert a component between them."
                )
            given[junction] = (one.code, boundary.port)
    return given


def seals(branches, root: Mapping[Port, Port], given) -> list[tuple[str, Branch]]:
    """Return a tiny leak for each set of junctions without a branch to a given pressure."""
    regions = Groups()
    for junction in given:
        regions.join(root[ROOM], junction)
    for _, branch in branches:
        regions.join(root[branch.a], root[branch.b])
    loose = sorted({*regions.found().values()} - {regions.find(root[ROOM])})
    return [(port.component, Branch(f"seal {port.name}", port, ROOM, SEAL)) for port in loose]


def numbered(branches, added, root: Mapping[Port, Port], given) -> Topology:
    """Return the topology with the unknown junctions first. A junction without branches is at ambient pressure."""
    touched = {root[port] for _, branch in branches for port in (branch.a, branch.b)}
    free = sorted(touched - set(given))
    fixed = [*sorted(given), *sorted({*root.values()} - touched - set(given))]
    order = {junction: index for index, junction in enumerate([*free, *fixed])}
    number = {port: order[root[port]] for port in sorted(root)}
    return Topology(
        number=number,
        names=[*free, *fixed],
        free=len(free),
        given=[given.get(junction) for junction in fixed],
        added=added,
        ends=np.array([(number[b.a], number[b.b]) for _, b in branches], dtype=int).reshape(-1, 2),
        pilots=[tuple(number[port] for port in b.pilots) for _, b in branches],
        keys=[(code, b.name) for code, b in branches],
        between=[(b.a, b.b) for _, b in branches],
    )
