"""What is wrong with a circuit before it can be solved, in the trade's words."""

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
MANY = 6  # parts named in one message

# The time of a cover table grows with the fourth power of the parts: 64 parts, the most of any circuit at hand, took
# 5 s and 128 took 87 s, so that 96 take about half a minute.
MOST_PARTS = 96
MOST_JOINTS = 200


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing that is wrong: at which part or joint, and what to do."""

    place: str
    message: str

    def __str__(self):
        return f"{self.place}: {self.message}"


def check_circuit(circuit: Circuit, kinds: Mapping[str, type[Element]] | None = None) -> tuple[Problem, ...]:
    """Return all that is wrong with a circuit, in the order of its parts and joints; nothing if it can be solved.

    kinds  element classes by component kind, those of fleet.circuit.elements unless others are given
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
    """Return what keeps a circuit from being computed within a minute."""
    counts = (("parts", len(circuit.parts), MOST_PARTS), ("joints", len(circuit.joints), MOST_JOINTS))
    return tuple(
        Problem("the circuit", f"has {count} {what}; accepted: {most} at most. Leave out what no gas of it needs.")
        for what, count, most in counts
        if count > most
    )


class Plan:
    """Parts, elements and joints of a circuit by code, without those that no sense can be made of."""

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
        """Return the gas that belongs at a port: a port named after a gas carries that one. Empty where any may be."""
        named = [gas for gas in GASES if port.name == gas or port.name.startswith(f"{gas}-")]
        if named:
            return max(named, key=len)
        return "" if port.name == "vent" else self.parts[port.part].gas


def doubled_codes(circuit: Circuit) -> Iterable[Problem]:
    for code, number in Counter(part.code for part in circuit.parts).items():
        if number > 1:
            labels = ", ".join(part.label for part in circuit.parts if part.code == code)
            yield Problem(code, f"{number} parts have this code ({labels}). Give each part a code of its own.")


def unknown_kinds(circuit: Circuit, kinds: Mapping[str, type[Element]]) -> Iterable[Problem]:
    for part in circuit.parts:
        if part.kind not in COMPONENT_KINDS or part.kind not in kinds:
            accepted = ", ".join(kind for kind in COMPONENT_KINDS if kind in kinds)
            yield Problem(
                part.code, f"{part.label} is of kind {part.kind!r}, which is not known. Accepted: {accepted}."
            )


def missing_gases(circuit: Circuit) -> Iterable[Problem]:
    for part in circuit.parts:
        kind = COMPONENT_KINDS.get(part.kind)
        if part.gas and part.gas not in GASES:
            yield Problem(part.code, f"{part.label} carries {part.gas!r}, no known gas. Accepted: {', '.join(GASES)}.")
        elif kind and kind.needs_gas and not part.gas:
            yield Problem(
                part.code, f"{part.label} carries one gas and does not say which. Accepted: {', '.join(GASES)}."
            )


def lost_joints(circuit: Circuit, plan: Plan) -> Iterable[Problem]:
    """A joint to a part that is not there, to a port that the part lacks, to itself, or there twice."""
    ways = Counter(frozenset((joint.source, joint.target)) for joint in circuit.joints)
    for joint in circuit.joints:
        place = str(joint)
        for port, other in ((joint.source, joint.target), (joint.target, joint.source)):
            if port.part not in plan.codes:
                yield Problem(
                    place,
                    f"The pipe at {plan.say(other)} leads to {port.part!r}, and there is no such part. If the part was "
                    f"removed, remove this joint too or lead the pipe to what took its place.",
                )
            elif port.part in plan.parts and not plan.has(port):
                ports = ", ".join(plan.kind(port.part).ports) or "none, it stands outside the gas path"
                yield Problem(place, f"{plan.labels[port.part]} has no port {port.name!r}. Its ports: {ports}.")
        if joint.source == joint.target:
            yield Problem(place, f"A pipe leads from {plan.say(joint.source)} back to the same port. Remove it.")
        elif ways[frozenset((joint.source, joint.target))] > 1:
            yield Problem(place, "These two ports are joined more than once. Keep one of the joints.")


def lost_partners(circuit: Circuit, plan: Plan) -> Iterable[Problem]:
    """A link or a bar that acts on a part that is not there. An option without choices names parts."""
    for code, element in plan.elements.items():
        for key, choices in element.options.items():
            if any(choices):
                continue
            named = plan.parts[code].options.get(key, "").replace(",", " ").split()
            for name in named:
                if name != EMPTY_PLACE and name not in plan.codes:
                    yield Problem(
                        code,
                        f"{plan.labels[code]} acts on {name!r} ({key}), and there is no such part. If the part was "
                        f"removed, remove the link too or name what took its place.",
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
                    f"Nothing is joined to the port {name!r} of {plan.labels[code]}, whose pressure steers it. Without "
                    f"it the part stays as it is at no pressure. Join the {name} line to it."
                )
            else:
                message = (
                    f"The port {name!r} of {plan.labels[code]} is joined to nothing: gas would leave there. Join it, "
                    f"close it with a plug, or remove the part."
                )
            yield Problem(code, message)


def crossed_gases(circuit: Circuit, plan: Plan) -> Iterable[Problem]:
    """Gas that would come into a port of another gas: at one joint, or by way of parts that any gas may pass."""
    lanes = nx.Graph()
    for joint in plan.joints:
        one, other = plan.gas(joint.source), plan.gas(joint.target)
        if one and other and one != other:
            yield Problem(
                str(joint),
                f"{plan.say(joint.source)} carries {GASES[one]}, and {plan.say(joint.target)} is for {GASES[other]}. "
                f"Lead each gas to its own port.",
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
        return  # gases are mixed there on purpose
    first = {}
    for port in lane:
        if plan.gas(port):
            first.setdefault(plan.gas(port), port)
    if len(first) > 1:
        said = ", ".join(f"{GASES[gas]} at {plan.say(port)}" for gas, port in first.items())
        yield Problem(str(lane[0]), f"One line carries more than one gas: {said}. Lead each gas by a line of its own.")


def joined_supplies(circuit: Circuit, plan: Plan) -> Iterable[Problem]:
    pipes = nx.Graph([(joint.source, joint.target) for joint in plan.joints])
    given = [boundary.port for plumbing in plan.plumbings.values() for boundary in plumbing.boundaries]
    for group in nx.connected_components(pipes):
        there = sorted(port for port in given if port in group)
        if len(there) > 1:
            said = " and ".join(plan.say(port) for port in there)
            yield Problem(
                str(there[0]), f"{said} are joined with nothing between them. Put a check valve in each line."
            )


def unfed_parts(circuit: Circuit, plan: Plan) -> Iterable[Problem]:
    """Parts that no supply leads to, one problem for each group that hangs together."""
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
            f"{what} leads to {said}. Join them to a pipeline inlet or a yoke, or remove them.",
        )
