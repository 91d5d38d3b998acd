"""Alterations that can be planned on many machines, each a function of a circuit. From alterations.toml."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from types import MappingProxyType
from typing import NamedTuple

from fleet.catalogue import AGENTS, FEATURES, GASES
from fleet.catalogue.loading import Entry, Source, by_code, read_tables
from fleet.circuit.additions import with_feature
from fleet.circuit.features_present import Protections
from fleet.circuit.network import check_circuit
from fleet.circuit.structure import Circuit, Connection, Port
from fleet.circuit.usual_states import agent_of, ordinary_state, vaporizers_of

_KEYS = (
    "code",
    "name",
    "does",
    "changes",
    "feature",
    "takes_off",
    "gas",
    "no_place",
    "caution",
    "source",
    "edition",
    "basis",
)
KINDS_FOR_FITTINGS = MappingProxyType({"pin-index": "cylinder-yoke", "flush-guard": "flush-valve"})
NEEDS_OTHER = frozenset({"ratio-link", "ratio-protection"})  # of no use without the second gas


class Changes(StrEnum):
    """How an alteration changes a circuit."""

    FEATURE = "feature"
    GAS_OFF = "gas off"
    AGENT_OFF = "agent off"


class CannotBeAltered(Exception):
    """A circuit that does not allow an alteration; the message says why, as a sentence."""


@dataclass(frozen=True, slots=True)
class Alteration:
    """One kind of alteration; see alterations.toml for what each field holds."""

    code: str
    name: str
    does: str
    changes: Changes
    feature: str
    takes_off: str
    gas: str
    no_place: str
    caution: str
    source: Source

    def __str__(self):
        return self.name

    @property
    def needs_agent(self) -> bool:
        return self.changes is Changes.AGENT_OFF

    @property
    def features_after(self) -> Mapping[str, bool]:
        """Return whether each feature that it changes is fitted afterwards."""
        after = {self.feature: not FEATURES[self.feature].is_unwanted} if self.feature else {}
        return after | ({self.takes_off: False} if self.takes_off else {})


class Difference(NamedTuple):
    """What an alteration does to a circuit: kinds of component, each as often as there are components."""

    fitted: tuple[str, ...]
    removed: tuple[str, ...]


def _alteration(entry: Entry) -> Alteration:
    entry.check_keys(_KEYS)
    changes = entry.choice("changes", Changes)
    feature = _code(entry, "feature", FEATURES) if changes is Changes.FEATURE else ""
    takes_off = _code(entry, "takes_off", FEATURES) if "takes_off" in entry.table else ""
    gas = _code(entry, "gas", GASES) if changes is Changes.GAS_OFF else ""
    return Alteration(
        entry.text("code"), entry.text("name"), entry.text("does"), changes, feature, takes_off, gas,
        entry.text("no_place"), entry.text("caution"), entry.source(),
    )  # fmt: skip


def _code(entry: Entry, key: str, accepted: Mapping[str, object]) -> str:
    code = entry.text(key)
    if code not in accepted:
        raise entry.refuse(f"{key} is {code!r}; accepted: {', '.join(accepted)}.")
    return code


ALTERATIONS: Mapping[str, Alteration] = by_code(
    read_tables("fleet.circuit", "alterations.toml", "alteration"), _alteration
)


def altered(circuit: Circuit, kind: Alteration, agent: str = "") -> Circuit:
    """Return the circuit after an alteration. Raises CannotBeAltered with the reason.

    agent  code of the agent that an alteration of the sort "agent off" withdraws; empty for any other
    """
    after = _BY_SORT[kind.changes](circuit, kind, agent)
    problems = check_circuit(after)
    if problems:
        raise CannotBeAltered(f"What is left would be no complete circuit. {problems[0]}")
    return after


def difference(before: Circuit, after: Circuit) -> Difference:
    """Return what an alteration fits and removes; a component that only changes is in neither."""
    old = {component.code: component for component in before.components}
    new = {component.code: component for component in after.components}
    fitted = sorted(each.kind for code, each in new.items() if code not in old)
    removed = sorted(each.kind for code, each in old.items() if code not in new)
    return Difference(tuple(fitted), tuple(removed))


def _with_feature(circuit: Circuit, kind: Alteration, _agent: str) -> Circuit:
    feature = FEATURES[kind.feature]
    if not feature.is_unwanted and kind.feature in Protections(circuit, ordinary_state(circuit)).present:
        raise CannotBeAltered(f"It has this already: {feature.name[:1].lower()}{feature.name[1:]}.")
    needed = KINDS_FOR_FITTINGS.get(kind.feature)
    after = None if needed and not circuit.of_kind(needed) else with_feature(circuit, kind.feature)
    if after is None or after == circuit:
        raise CannotBeAltered(kind.no_place)
    return after


def _without_gas(circuit: Circuit, kind: Alteration, _agent: str) -> Circuit:
    gone = {component.code for component in circuit.components if component.gas == kind.gas}
    if not gone:
        raise CannotBeAltered(kind.no_place)
    for component in circuit.of_kind(*NEEDS_OTHER):
        circuit = _bridged(circuit, component.code, "oxygen-in", "oxygen-out")
    return _with_fed_banks(_without(circuit, gone))


def _with_fed_banks(circuit: Circuit) -> Circuit:
    """Return the circuit with the gas that entered a bank last at its upstream end, if nothing else does any more."""
    for bank in circuit.of_kind("flow-bank"):
        upstream, last = Port(bank.code, "in"), Port(bank.code, "out")
        if not any(connection.target == upstream for connection in circuit.connections):
            moved = tuple(replace(j, target=upstream) if j.target == last else j for j in circuit.connections)
            circuit = replace(circuit, connections=moved)
    return circuit


def _without_agent(circuit: Circuit, kind: Alteration, agent: str) -> Circuit:
    gone = [component for component in vaporizers_of(circuit) if agent_of(component) == agent]
    if not gone:
        held = sorted({AGENTS[code].name for each in vaporizers_of(circuit) if (code := agent_of(each)) in AGENTS})
        raise CannotBeAltered(f"{kind.no_place} It has: {', '.join(held).lower() or 'none with an agent recorded'}.")
    for component in gone:
        circuit = _bridged(circuit, component.code, "in", "out")
    return _with_fewer_excluded(circuit, {component.code for component in gone})


_BY_SORT: Mapping[Changes, Callable[[Circuit, Alteration, str], Circuit]] = MappingProxyType(
    {Changes.FEATURE: _with_feature, Changes.GAS_OFF: _without_gas, Changes.AGENT_OFF: _without_agent}
)


def _without(circuit: Circuit, gone: set[str]) -> Circuit:
    components = tuple(component for component in circuit.components if component.code not in gone)
    connections = tuple(j for j in circuit.connections if not {j.source.component, j.target.component} & gone)
    return replace(circuit, components=components, connections=connections)


def _bridged(circuit: Circuit, code: str, port_in: str, port_out: str) -> Circuit:
    """Return the circuit without a component; what led into one of its ports leads to where the other led."""
    into = [j.source for j in circuit.connections if j.target == Port(code, port_in)]
    out = [(j.target, j.size) for j in circuit.connections if j.source == Port(code, port_out)]
    made = tuple(Connection(source, target, size) for source in into for target, size in out)
    left = _without(circuit, {code})
    return replace(left, connections=left.connections + made)


def _with_fewer_excluded(circuit: Circuit, gone: set[str]) -> Circuit:
    """Return the circuit with the exclusion naming only vaporizers that are left; without it where one is left."""
    components = []
    for component in circuit.components:
        named = component.options.get("vaporizers", "").split()
        if component.kind == "exclusion-bar" and gone & set(named):
            named = ["-" if code in gone else code for code in named]
            if sum(code != "-" for code in named) < 2:
                continue
            options = MappingProxyType({**component.options, "vaporizers": " ".join(named)})
            component = replace(component, options=options)
        components.append(component)
    return replace(circuit, components=tuple(components))
