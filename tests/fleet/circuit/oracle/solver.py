"""Finds the steady state of a circuit: pressures and flows, then mixtures, in turn until both converge."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace

from fleet.circuit import elements as known
from fleet.circuit.effects import Seen, heard
from fleet.circuit.elements.base import BODY, Condition, Element
from fleet.circuit.gases import ROOM_AIR, SPECIES, Mix
from fleet.circuit.locations import patient_of
from fleet.circuit.solution import NoSolution, Solution
from fleet.circuit.state import Fault, Settings, State
from fleet.circuit.structure import Circuit, Component
from fleet.circuit.tube_order import laid_out
from fleet.late import np
from tests.fleet.circuit.oracle.composition import Mixing, as_mixes, directed
from tests.fleet.circuit.oracle.junctions import Net, build_net
from tests.fleet.circuit.oracle.metabolism import with_metabolism
from tests.fleet.circuit.oracle.pressures import Balance, Settled, settle
from tests.fleet.circuit.oracle.tracing import trace

PASSES = 60
SAME = 1e-9  # change of a mole fraction between passes below which mixtures have converged
# After this number of passes a larger change is accepted: the gas in a loop that only leaks through shut valves reach
# depends on the last digits of the pressures.
EXACT_PASSES, NEARLY_SAME = 12, 1e-6
TRICKLE_M3_S = 1e-11  # 0.6 uL/min: gas with less inflow may change more, in proportion; flows are not more accurate
FAINT_M3_S = 1e-15  # 6e-8 mL/min: the imbalance of junctions with smaller flows is divided by this
HIGHEST_IMBALANCE = 1e-9


class Flows(dict):
    """Flows by component code and branch name, found by component and by port."""

    def value(self, key):
        return self[key].value_m3_s if key in self else 0.0

    def ways(self, code):
        return [(flow.name, flow.a, flow.b, flow.value_m3_s) for flow in self.of_component(code)]

    def of_component(self, code):
        return [flow for flow in self.values() if flow.component == code and flow.b != BODY]

    def at_port(self, port):
        return [flow for flow in self.values() if port in (flow.a, flow.b)]

    def lost(self, ports):
        found = dict.fromkeys(SPECIES, 0.0)
        for flow in self.values():
            if (flow.b if flow.value_m3_s >= 0 else flow.a) in ports:
                for species, share in flow.mix.shares.items():
                    found[species] += abs(flow.value_m3_s) * share
        return found

    def drawn(self, port, components):
        flows = (flow for flow in self.values() if flow.component in components)
        return sum(abs(flow.value_m3_s) for flow in flows if (flow.a if flow.value_m3_s >= 0 else flow.b) == port)


class Pressures(dict):
    """Pressures by port, found by component."""

    def of_component(self, code):
        return [pressure for port, pressure in self.items() if port.component == code]


Kinds = Mapping[str, type[Element]]


def solve(
    circuit: Circuit,
    state: State,
    faults: Iterable[Fault] = (),
    removed: Iterable[str] = (),
    *,
    start: Solution | None = None,
    kinds: Kinds | None = None,
) -> Solution:
    """Return the steady pressures, flows and mixtures of a circuit in a state.

    faults   at most one for each component
    removed  codes of features whose action is removed in all components that provide them
    start    a solution of the same circuit to start from; it saves time and does not change the result
    kinds    element classes by component kind, by default those of fleet.circuit.elements

    The order of components, connections and faults does not matter. Raises NoSolution, which names place and reason.
    """
    faults, removed = tuple(sorted(faults, key=str)), frozenset(removed)
    kinds = known.ELEMENTS if kinds is None else kinds
    plan = laid_out(circuit, removed) if "flow-bank" in kinds and kinds["flow-bank"].acts_elsewhere else circuit
    elements = elements_of(plan, state, faults, removed, kinds)
    net = build_net(plan, state, elements)
    mixing = Mixing(net)
    settled, fractions, passes = stand_still(net, mixing, start)
    left = with_metabolism(net, mixing, settled, fractions, elements)
    solution = Solution(
        circuit=circuit,
        state=state,
        faults=faults,
        removed=removed,
        pressures_pa_abs=Pressures(zip(net.number, settled.pressures[list(net.number.values())].tolist(), strict=True)),
        mixes=at_ports(net, as_mixes(left.fractions)),
        flows=Flows(left.flows),
        carbon_dioxide=left.carbon_dioxide,
        passes=passes,
        imbalance=imbalance(net, mixing, settled, fractions),
    )
    patient = patient_of(circuit)
    if patient is not None:
        solution = replace(solution, traced={patient.code: trace(solution, net.number, patient.code)})
    if not solution.imbalance <= HIGHEST_IMBALANCE:
        raise NoSolution(
            f"The flows of {circuit} do not balance: the difference at a junction is {solution.imbalance:.1e} of the "
            f"largest flow; accepted: {HIGHEST_IMBALANCE:.0e} at most. Look for values far outside the usual range."
        )
    return replace(solution, told=heard((elements[code] for code in sorted(elements)), Seen(solution)))


def elements_of(
    circuit: Circuit, state: State, faults: tuple[Fault, ...], removed: frozenset[str], kinds: Kinds
) -> dict[str, Element]:
    """Return the element of each component in its condition, by component code.

    Mechanical links between components act first: they turn what was set by hand into the settings of all components.
    """
    failures = failures_of(circuit, faults)
    components = sorted(circuit.components, key=lambda component: component.code)
    settings: Mapping[str, Settings] = state.settings
    check_components(circuit, components, settings)

    def elements(settings) -> dict[str, Element]:
        made = {}
        for component in components:
            failure = failures.get(component.code, "")
            made[component.code] = element(
                component, settings.get(component.code, {}), failure, removed, circuit, kinds
            )
        return made

    asked = elements(settings)
    for code, one in asked.items():
        failure = failures.get(code, "")
        if failure and failure not in one.failures:
            accepted = ", ".join(one.failures) or "none"
            raise NoSolution(f"{one.component.label} has no failure {failure!r}. Accepted: {accepted}.")
        settings = one.govern(settings)
    return asked if settings == state.settings else elements(settings)


def element(
    component: Component, settings: Settings, failure: str, removed: frozenset[str], circuit: Circuit, kinds: Kinds
) -> Element:
    """Return the element of one component; without its protective action if it provides a removed feature."""
    if component.kind not in kinds:
        raise NoSolution(f"{component.label} is of kind {component.kind!r}, which has no flow law.")
    condition = Condition(settings, failure, False, circuit.ambient_pa_abs)
    whole = kinds[component.kind](component, condition)
    if removed.isdisjoint(whole.protects):
        return whole
    return kinds[component.kind](component, replace(condition, is_removed=True))


def failures_of(circuit: Circuit, faults: Iterable[Fault]) -> dict[str, str]:
    """Return the failure of each failed component: the one asked for, else the one in which it was found."""
    failures: dict[str, str] = {}
    for fault in faults:
        if failures.setdefault(fault.component, fault.mode) != fault.mode:
            raise NoSolution(
                f"{fault.component} cannot fail in two ways at once: {failures[fault.component]} and {fault.mode}."
            )
        if all(component.code != fault.component for component in circuit.components):
            raise NoSolution(
                f"{circuit} has no component {fault.component!r}, so it cannot have failed ({fault.mode})."
            )
    return {**{component.code: component.failed for component in circuit.components if component.failed}, **failures}


def check_components(circuit: Circuit, components: list[Component], settings: Mapping[str, Settings]) -> None:
    codes = [component.code for component in components]
    doubled = sorted({code for code in codes if codes.count(code) > 1})
    if doubled:
        raise NoSolution(f"{circuit} has more than one component with the code {', '.join(doubled)}.")
    unknown = sorted(set(settings) - set(codes))
    if unknown:
        raise NoSolution(f"{circuit} has no component {', '.join(unknown)}, for which the state has a setting.")


def stand_still(net: Net, mixing: Mixing, start: Solution | None) -> tuple[Settled, np.ndarray, int]:
    """Solve pressures and mixtures in turn until both converge; return them with the number of passes."""
    balance = Balance(net)
    pressures, mixes = beginning(net, balance, start)
    before = None
    for count in range(1, PASSES + 1):
        settled = settle(balance, pressures, mixes)
        pressures = settled.pressures
        fractions, comes = mixing.fractions(settled)
        if before is not None:
            change = np.abs(fractions - before).max(axis=1) * np.minimum(1.0, comes / TRICKLE_M3_S)
            if change.max(initial=0.0) <= (SAME if count <= EXACT_PASSES else NEARLY_SAME):
                return settled, fractions, count
            if count > PASSES // 3:
                fractions = (fractions + before) / 2
        mixes, before = as_mixes(fractions, mixes), fractions
    raise NoSolution(
        f"The gas at {net.place(int(np.argmax(change)))} does not settle: it changes with the flows, and the "
        f"flows change with it."
    )


def beginning(net: Net, balance: Balance, start: Solution | None) -> tuple[np.ndarray, list[Mix]]:
    """Return the pressures and mixtures to start from: those of a solution, else room air everywhere."""
    given = [mix for _, mix in net.given]
    names = net.names[: net.free]
    if start is None:
        room = start_pressure(net)
        return np.append(np.full(net.free, room), balance.given), [*[ROOM_AIR] * net.free, *given]
    room = start.circuit.ambient_pa_abs
    pressures = [start.pressures_pa_abs.get(port, room) for port in names]
    mixes = [start.mixes.get(port, ROOM_AIR) for port in names]
    return np.append(pressures, balance.given), [*mixes, *given]


def start_pressure(net: Net) -> float:
    return min(pressure for pressure, _ in net.given)


def at_ports(net: Net, mixes: list[Mix]) -> dict:
    return {port: mixes[junction] for port, junction in net.number.items()}


def imbalance(net: Net, mixing: Mixing, settled: Settled, fractions: np.ndarray) -> float:
    """Return the largest sum of flows at a junction divided by the largest flow there, in total and for each gas.

    Computed from the reported values: flow and mixture as they leave a branch, minus the vapour added on the way.
    """
    values = settled.values
    _, end, arrives = directed(net, values, settled.gain)
    start = np.where(values >= 0, net.ends[:, 0], net.ends[:, 1])
    brought = arrives[:, None] * mixing.leaving(fractions, values)
    taken = brought - (arrives * (values > 0))[:, None] * mixing.added
    sums, largest = np.zeros((net.size, brought.shape[1])), np.full(net.size, FAINT_M3_S)
    np.add.at(sums, end, brought)
    np.subtract.at(sums, start, taken)
    np.maximum.at(largest, end, arrives)
    np.maximum.at(largest, start, np.abs(values))
    at_free = slice(0, net.free)
    by_gas = np.abs(sums[at_free]).max(axis=1, initial=0.0)
    in_all = np.abs(sums[at_free].sum(axis=1))
    return float((np.maximum(by_gas, in_all) / largest[at_free]).max(initial=0.0))
