"""Checks a circuit before it is solved, and describes each problem."""

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import networkx as nx

from fleet.catalogue import COMPONENT_KINDS, GASES, ComponentKind
from fleet.circuit import elements as known
from fleet.circuit.elements.base import Condition, Element, Plumbing
from fleet.circuit.structure import Circuit, Part, Port

SUPPLIES = ("pipeline-inlet", "cylinder-yoke")
EMPTY_PLACE = "-"
MANY = 6  # components named in one message

# The time of a cover table grows with the fourth power of the number of components: 64 components, the largest circuit
# available, took 5 s and 128 took 87 s, so 96 take about half a minute.
MOST_PARTS = 96
MOST_JOINTS = 200


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
                *lost_joints(circuit, plan),
                *lost_partners(circuit, plan),
                *dangling_ports(circuit, plan),
                *crossed_gases(circuit, plan),
                *joined_supplies(circuit, plan),
                *unfed_parts(circuit, plan),
            ]
        )
    )


def too_large(circuit: Circuit) -> tuple[Problem, ...]:
    """Return the problem of a circuit that is too large to be computed within a minute."""
    counts = (
        ("components", len(circuit.parts), MOST_PARTS),
        ("connections", len(circuit.joints), MOST_JOINTS),
    )
    return tuple(
        Problem("the circuit", f"has {count} {what}; accepted: {most} at most. Leave out what does not affect the gas.")
        for what, count, most in counts
        if count > most
    )


class Plan:
    """Components, elements and connections of a circuit by code, without the invalid ones."""

    def __init__(self, circuit: Circuit, kinds: Mapping[str, type[Element]]):
        self.parts: dict[str, Part] = {}
        for part in circuit.parts:
            if part.kind in COMPONENT_KINDS and part.kind in kinds:
                self.parts.setdefault(part.code, part)
        self.codes = {part.code for part in circuit.parts}
        self.labels = {part.code: part.label for part in circuit.parts}
        condition = Condition(ambient_pa_abs=circuit.ambient_pa_abs)
        self.elements = {code: kinds[part.kind](part, condition) for code, part in self.parts.items()}
        self.plumbings = {
            code: one.plumbing() if self.knows_gas(code) else Plumbing() for code, one in self.elements.items()
        }
        self.joints = [joint for joint in circuit.joints if self.has(joint.source) and self.has(joint.target)]
        self.joined = {port for joint in self.joints for port in (joint.source, joint.target)}

    def knows_gas(self, code: str) -> bool:
        gas = self.parts[code].gas
        return gas in GASES or not (gas or self.kind(code).needs_gas)

    def kind(self, code: str) -> ComponentKind:
        return COMPONENT_KINDS[self.parts[code].kind]

    def has(self, port: Port) -> bool:
        return port.part in self.parts and port.name in self.kind(port.part).ports

    def say(self, port: Port) -> str:
        """Return a port in words, such as: oxygen regulator (port "in")."""
        return f'{self.labels.get(port.part, port.part)} (port "{port.name}")'

    def gas(self, port: Port) -> str:
        """Return the gas of a port: a port named after a gas carries that gas. Empty if any gas may pass."""
        named = [gas for gas in GASES if port.name == gas or port.name.startswith(f"{gas}-")]
        if named:
            return max(named, key=len)
        return "" if port.name == "vent" else self.parts[port.part].gas


def doubled_codes(circuit: Circuit) -> Iterable[Problem]:
    for code, number in Counter(part.code for part in circuit.parts).items():
        if number > 1:
            labels = ", ".join(part.label for part in circuit.parts if part.code == code)
            yield Problem(code, f"{number} components have this code ({labels}). Give each component its own code.")


def unknown_kinds(circuit: Circuit, kinds: Mapping[str, type[Element]]) -> Iterable[Problem]:
    for part in circuit.parts:
        if part.kind not in COMPONENT_KINDS or part.kind not in kinds:
            accepted = ", ".join(kind for kind in COMPONENT_KINDS if kind in kinds)
            yield Problem(part.code, f"{part.label} is of the unknown kind {part.kind!r}. Accepted: {accepted}.")


def missing_gases(circuit: Circuit) -> Iterable[Problem]:
    for part in circuit.parts:
        kind = COMPONENT_KINDS.get(part.kind)
        if part.gas and part.gas not in GASES:
            yield Problem(part.code, f"{part.label} carries {part.gas!r}, not a gas. Accepted: {', '.join(GASES)}.")
        elif kind and kind.needs_gas and not part.gas:
            yield Problem(part.code, f"{part.label} needs its gas stated. Accepted: {', '.join(GASES)}.")


def lost_joints(circuit: Circuit, plan: Plan) -> Iterable[Problem]:
    """A connection to an unknown component, to a port that the component lacks, to itself, or a duplicate."""
    ways = Counter(frozenset((joint.source, joint.target)) for joint in circuit.joints)
    for joint in circuit.joints:
        place = str(joint)
        for port, other in ((joint.source, joint.target), (joint.target, joint.source)):
            if port.part not in plan.codes:
                yield Problem(
                    place,
                    f"The connection at {plan.say(other)} leads to {port.part!r}, which does not exist. If it was "
                    f"removed, remove this connection too or connect it to the replacement.",
                )
            elif port.part in plan.parts and not plan.has(port):
                ports = ", ".join(plan.kind(port.part).ports) or "none, it is outside the gas path"
                yield Problem(place, f"{plan.labels[port.part]} has no port {port.name!r}. Its ports: {ports}.")
        if joint.source == joint.target:
            yield Problem(place, f"A connection leads from {plan.say(joint.source)} back to the same port. Remove it.")
        elif ways[frozenset((joint.source, joint.target))] > 1:
            yield Problem(place, "These two ports are connected more than once. Keep one of the connections.")


def lost_partners(circuit: Circuit, plan: Plan) -> Iterable[Problem]:
    """A ratio link or exclusion bar that acts on an unknown component. An option without choices names components."""
    for code, element in plan.elements.items():
        for key, choices in element.options.items():
            if any(choices):
                continue
            named = plan.parts[code].options.get(key, "").replace(",", " ").split()
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
    lanes = nx.Graph()
    for joint in plan.joints:
        one, other = plan.gas(joint.source), plan.gas(joint.target)
        if one and other and one != other:
            yield Problem(
                str(joint),
                f"{plan.say(joint.source)} carries {GASES[one]}, and {plan.say(joint.target)} is for {GASES[other]}. "
                f"Connect each gas to its own port.",
            )
        else:
            lanes.add_edge(joint.source, joint.target)
    for code, part in plan.parts.items():
        ports = [Port(code, name) for name in plan.kind(code).ports]
        if not part.gas and plan.kind(code).gas == "optional":
            nx.add_path(lanes, ports)
    for lane in nx.connected_components(lanes):
        yield from crossed_lane(sorted(lane), plan)


def crossed_lane(lane: list[Port], plan: Plan) -> Iterable[Problem]:
    if any(plan.kind(port.part).gas == "none" and not plan.gas(port) for port in lane):
        return  # gases are mixed there by design
    first = {}
    for port in lane:
        if plan.gas(port):
            first.setdefault(plan.gas(port), port)
    if len(first) > 1:
        said = ", ".join(f"{GASES[gas]} at {plan.say(port)}" for gas, port in first.items())
        yield Problem(str(lane[0]), f"One line carries more than one gas: {said}. Give each gas its own line.")


def joined_supplies(circuit: Circuit, plan: Plan) -> Iterable[Problem]:
    pipes = nx.Graph([(joint.source, joint.target) for joint in plan.joints])
    given = [boundary.port for plumbing in plan.plumbings.values() for boundary in plumbing.boundaries]
    for group in nx.connected_components(pipes):
        there = sorted(port for port in given if port in group)
        if len(there) > 1:
            said = " and ".join(plan.say(port) for port in there)
            yield Problem(str(there[0]), f"{said} are connected directly. Insert a check valve in each line.")


def unfed_parts(circuit: Circuit, plan: Plan) -> Iterable[Problem]:
    """Components without a supply, one problem for each connected group."""
    pipes = nx.Graph((joint.source.part, joint.target.part) for joint in plan.joints)
    pipes.add_nodes_from(code for code in plan.parts if plan.kind(code).ports)
    pipes.remove_edges_from(list(nx.selfloop_edges(pipes)))
    for group in sorted(nx.connected_components(pipes), key=min):
        fed = any(plan.parts[code].kind in SUPPLIES or plan.plumbings[code].boundaries for code in group)
        if fed:
            continue
        names = [plan.labels[code] for code in plan.parts if code in group]
        said = ", ".join(names[:MANY]) + (f" and {len(names) - MANY} more" if len(names) > MANY else "")
        loop = nx.cycle_basis(pipes.subgraph(group))
        what = "They form a loop without a source: no supply" if loop else "No supply"
        yield Problem(
            next(code for code in plan.parts if code in group),
            f"{what} leads to {said}. Connect them to a pipeline inlet or a yoke, or remove them.",
        )
