"""Checks a circuit before it is solved, and describes each problem."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from fleet.catalogue import COMPONENT_KINDS, GASES, ComponentKind
from fleet.circuit import elements as known
from fleet.circuit.elements.base import Condition, Element, Plumbing
from fleet.circuit.structure import Circuit, Component, Port
from fleet.late import networkx

SUPPLIES = ("pipeline-inlet", "cylinder-yoke")
EMPTY_PLACE = "-"
MANY = 6  # components named in one message

# The time of a cover table grows in proportion to components times causes, and so with the square of the components: 64
# components, the largest circuit available, take 1.5 s. See tests/benchmarks/bench_circuit.py.
MOST_COMPONENTS = 96
MOST_CONNECTIONS = 200


@dataclass(frozen=True, slots=True)
class Problem:
    """One problem: its component or connection, what is wrong and what to do."""

    place: str
    message: str

    def __str__(self):
        return f"{self.place}: {self.message}"


def check_circuit(circuit: Circuit, kinds: Mapping[str, type[Element]] | None = None) -> tuple[Problem, ...]:
    """Return all problems of a circuit, in the order of its components and connections; none if it can be solved.

    kinds  element classes by component kind, by default those of fleet.circuit.elements
    """
    if problems := too_large(circuit):
        return problems
    kinds = known.ELEMENTS if kinds is None else kinds
    plan = Plan(circuit, kinds)
    return tuple(
        dict.fromkeys(
            [
                *doubled_codes(circuit),
                *unknown_kinds(circuit, kinds),
                *missing_gases(circuit),
                *lost_connections(circuit, plan),
                *lost_partners(circuit, plan),
                *dangling_ports(circuit, plan),
                *crossed_gases(circuit, plan),
                *joined_supplies(circuit, plan),
                *unfed_components(circuit, plan),
            ]
        )
    )


def too_large(circuit: Circuit) -> tuple[Problem, ...]:
    """Return the problem of a circuit that is too large to be computed within a minute."""
    counts = (
        ("components", len(circuit.components), MOST_COMPONENTS),
        ("connections", len(circuit.connections), MOST_CONNECTIONS),
    )
    return tuple(
        Problem("the circuit", f"has {count} {what}; accepted: {most} at most. Leave out what does not affect the gas.")
        for what, count, most in counts
        if count > most
    )


class Plan:
    """Components, elements and connections of a circuit by code, without the invalid ones."""

    def __init__(self, circuit: Circuit, kinds: Mapping[str, type[Element]]):
        self.components: dict[str, Component] = {}
        for component in circuit.components:
            if component.kind in COMPONENT_KINDS and component.kind in kinds:
                self.components.setdefault(component.code, component)
        self.codes = {component.code for component in circuit.components}
        self.labels = {component.code: component.label for component in circuit.components}
        condition = Condition(ambient_pa_abs=circuit.ambient_pa_abs)
        self.elements = {
            code: kinds[component.kind](component, condition) for code, component in self.components.items()
        }
        self.plumbings = {
            code: one.plumbing() if self.knows_gas(code) else Plumbing() for code, one in self.elements.items()
        }
        self.connections = [
            connection
            for connection in circuit.connections
            if self.has(connection.source) and self.has(connection.target)
        ]
        self.joined = {port for connection in self.connections for port in (connection.source, connection.target)}

    def knows_gas(self, code: str) -> bool:
        gas = self.components[code].gas
        return gas in GASES or not (gas or self.kind(code).needs_gas)

    def kind(self, code: str) -> ComponentKind:
        return COMPONENT_KINDS[self.components[code].kind]

    def has(self, port: Port) -> bool:
        return port.component in self.components and port.name in self.kind(port.component).ports

    def say(self, port: Port) -> str:
        """Return a port in words, such as: oxygen regulator (port "in")."""
        return f'{self.labels.get(port.component, port.component)} (port "{port.name}")'

    def gas(self, port: Port) -> str:
        """Return the gas of a port: a port named after a gas carries that gas. Empty if any gas may pass."""
        named = [gas for gas in GASES if port.name == gas or port.name.startswith(f"{gas}-")]
        if named:
            return max(named, key=len)
        return "" if port.name == "vent" else self.components[port.component].gas


def doubled_codes(circuit: Circuit) -> Iterable[Problem]:
    for code, number in Counter(component.code for component in circuit.components).items():
        if number > 1:
            labels = ", ".join(component.label for component in circuit.components if component.code == code)
            yield Problem(code, f"{number} components have this code ({labels}). Give each component its own code.")


def unknown_kinds(circuit: Circuit, kinds: Mapping[str, type[Element]]) -> Iterable[Problem]:
    for component in circuit.components:
        if component.kind not in COMPONENT_KINDS or component.kind not in kinds:
            accepted = ", ".join(kind for kind in COMPONENT_KINDS if kind in kinds)
            yield Problem(
                component.code, f"{component.label} is of the unknown kind {component.kind!r}. Accepted: {accepted}."
            )


def missing_gases(circuit: Circuit) -> Iterable[Problem]:
    for component in circuit.components:
        kind = COMPONENT_KINDS.get(component.kind)
        if component.gas and component.gas not in GASES:
            yield Problem(
                component.code, f"{component.label} carries {component.gas!r}, not a gas. Accepted: {', '.join(GASES)}."
            )
        elif kind and kind.needs_gas and not component.gas:
            yield Problem(component.code, f"{component.label} needs its gas stated. Accepted: {', '.join(GASES)}.")


def lost_connections(circuit: Circuit, plan: Plan) -> Iterable[Problem]:
    """A connection to an unknown component, to a port that the component lacks, to itself, or a duplicate."""
    ways = Counter(frozenset((connection.source, connection.target)) for connection in circuit.connections)
    for connection in circuit.connections:
        place = str(connection)
        for port, other in ((connection.source, connection.target), (connection.target, connection.source)):
            if port.component not in plan.codes:
                yield Problem(
                    place,
                    f"The connection at {plan.say(other)} leads to {port.component!r}, which does not exist. If it was "
                    f"removed, remove this connection too or connect it to the replacement.",
                )
            elif port.component in plan.components and not plan.has(port):
                ports = ", ".join(plan.kind(port.component).ports) or "none, it is outside the gas path"
                yield Problem(place, f"{plan.labels[port.component]} has no port {port.name!r}. Its ports: {ports}.")
        if connection.source == connection.target:
            yield Problem(
                place, f"A connection leads from {plan.say(connection.source)} back to the same port. Remove it."
            )
        elif ways[frozenset((connection.source, connection.target))] > 1:
            yield Problem(place, "These two ports are connected more than once. Keep one of the connections.")


def lost_partners(circuit: Circuit, plan: Plan) -> Iterable[Problem]:
    """A ratio link or exclusion bar that acts on an unknown component. An option without choices names components."""
    for code, element in plan.elements.items():
        for key, choices in element.options.items():
            if any(choices):
                continue
            named = plan.components[code].options.get(key, "").replace(",", " ").split()
            for name in named:
                if name != EMPTY_PLACE and name not in plan.codes:
                    yield Problem(
                        code,
                        f"{plan.labels[code]} acts on {name!r} ({key}), which does not exist. If that component was "
                        f"removed, remove {plan.labels[code]} too or name the replacement.",
                    )


def dangling_ports(circuit: Circuit, plan: Plan) -> Iterable[Problem]:
    for code, element in plan.elements.items():
        steering = {port.name for branch in plan.plumbings[code].branches for port in branch.pilots}
        for name in plan.kind(code).ports:
            port = Port(code, name)
            if port in plan.joined or name in element.unjoined:
                continue
            if name in steering and name not in ("in", "out"):
                message = (
                    f"Nothing is connected to the port {name!r} of {plan.labels[code]}, its pilot pressure. Without "
                    f"it the component stays as it is at zero pressure. Connect the {name} line to it."
                )
            else:
                message = (
                    f"The port {name!r} of {plan.labels[code]} is not connected: gas would escape there. Connect it, "
                    f"close it with a plug, or remove the component."
                )
            yield Problem(code, message)


def crossed_gases(circuit: Circuit, plan: Plan) -> Iterable[Problem]:
    """Gas that would reach a port of another gas: at one connection, or through components that any gas may pass."""
    lanes = networkx.Graph()
    for connection in plan.connections:
        one, other = plan.gas(connection.source), plan.gas(connection.target)
        if one and other and one != other:
            yield Problem(
                str(connection),
                f"{plan.say(connection.source)} carries {GASES[one]}, and {plan.say(connection.target)} is for "
                f"{GASES[other]}. Connect each gas to its own port.",
            )
        else:
            lanes.add_edge(connection.source, connection.target)
    for code, component in plan.components.items():
        ports = [Port(code, name) for name in plan.kind(code).ports]
        if not component.gas and plan.kind(code).gas == "optional":
            networkx.add_path(lanes, ports)
    for lane in networkx.connected_components(lanes):
        yield from crossed_lane(sorted(lane), plan)


def crossed_lane(lane: list[Port], plan: Plan) -> Iterable[Problem]:
    if any(plan.kind(port.component).gas == "none" and not plan.gas(port) for port in lane):
        return  # gases are mixed there by design
    first = {}
    for port in lane:
        if plan.gas(port):
            first.setdefault(plan.gas(port), port)
    if len(first) > 1:
        said = ", ".join(f"{GASES[gas]} at {plan.say(port)}" for gas, port in first.items())
        yield Problem(str(lane[0]), f"One line carries more than one gas: {said}. Give each gas its own line.")


def joined_supplies(circuit: Circuit, plan: Plan) -> Iterable[Problem]:
    joined = networkx.Graph([(connection.source, connection.target) for connection in plan.connections])
    given = [boundary.port for plumbing in plan.plumbings.values() for boundary in plumbing.boundaries]
    for group in networkx.connected_components(joined):
        there = sorted(port for port in given if port in group)
        if len(there) > 1:
            said = " and ".join(plan.say(port) for port in there)
            yield Problem(str(there[0]), f"{said} are connected directly. Insert a check valve in each line.")


def unfed_components(circuit: Circuit, plan: Plan) -> Iterable[Problem]:
    """Components without a supply, one problem for each connected group."""
    joined = networkx.Graph(
        (connection.source.component, connection.target.component) for connection in plan.connections
    )
    joined.add_nodes_from(code for code in plan.components if plan.kind(code).ports)
    joined.remove_edges_from(list(networkx.selfloop_edges(joined)))
    for group in sorted(networkx.connected_components(joined), key=min):
        fed = any(plan.components[code].kind in SUPPLIES or plan.plumbings[code].boundaries for code in group)
        if fed:
            continue
        names = [plan.labels[code] for code in plan.components if code in group]
        said = ", ".join(names[:MANY]) + (f" and {len(names) - MANY} more" if len(names) > MANY else "")
        loop = networkx.cycle_basis(joined.subgraph(group))
        what = "They form a loop without a source: no supply" if loop else "No supply"
        yield Problem(
            next(code for code in plan.components if code in group),
            f"{what} leads to {said}. Connect them to a pipeline inlet or a yoke, or remove them.",
        )
