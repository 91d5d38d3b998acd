"""Describes how a state differs from ordinary use, component by component."""

from collections.abc import Callable, Iterator, Mapping

from fleet.circuit.effects import Seen, foreign_share
from fleet.circuit.elements import ELEMENTS
from fleet.circuit.elements.base import ROOM
from fleet.circuit.gases import Mix
from fleet.circuit.quantity_words import agents_text, airway_text, flow_text, mix_text, of_gas, share_text, supply_text
from fleet.circuit.solution import BranchFlow
from fleet.circuit.structure import Circuit, Component, Port

FLOW_CHANGE_M3_S = 0.05 / 60_000  # 50 mL/min
SUPPLY_CHANGE_PA = 10_000.0
AIRWAY_CHANGE_PA = 200.0
SHARE_CHANGE = 0.01
AGENT_CHANGE = 0.001


class Change:
    """One component in ordinary use and in the state described."""

    def __init__(self, component: Component, before: Seen, now: Seen):
        self.component, self.before, self.now = component, before, now

    def gauge(self, port: str) -> tuple[float, float]:
        return tuple(
            seen.solution.pressures_pa_abs.get(self._port(port), seen.circuit.ambient_pa_abs)
            - seen.circuit.ambient_pa_abs
            for seen in (self.before, self.now)
        )

    def mix(self, port: str) -> tuple[Mix | None, Mix | None]:
        return tuple(seen.solution.mixes.get(self._port(port)) for seen in (self.before, self.now))

    def flow(self, name: str = "through") -> tuple[float, float]:
        return tuple(seen.solution.value_m3_s(self.component.code, name) for seen in (self.before, self.now))

    def now_flow(self, name: str = "through") -> BranchFlow | None:
        return self.now.solution.flows.get((self.component.code, name))

    def has_new_flow(self, name: str = "through") -> bool:
        before, now = self.flow(name)
        return abs(now - before) > max(FLOW_CHANGE_M3_S, 0.05 * abs(before))

    def _port(self, name: str) -> Port:
        return Port(self.component.code, name)


def changes(before: Seen, now: Seen) -> tuple[str, ...]:
    """Return the sentences, from supplies by controls and outlet to patient; empty if nothing changed.

    Rows of several hazards tell the same change: it is put into words once.
    """
    known = now.changed_from.get(id(before.solution))
    if known is None:
        told = (
            sentence
            for component, teller in now.circuit.once(_in_order)
            for sentence in teller(Change(component, before, now))
            if sentence
        )
        known = now.changed_from[id(before.solution)] = before.solution, tuple(told)
    return known[1]


def _in_order(circuit: Circuit) -> list[tuple[Component, Callable[[Change], Iterator[str]]]]:
    order = {kind: index for index, kind in enumerate(_TELLERS)}
    components = [component for component in circuit.components if component.kind in order]
    components.sort(key=lambda one: (order[one.kind], one.gas != "oxygen", one.code))
    return [(component, _TELLERS[component.kind]) for component in components]


def _inlet(change: Change) -> Iterator[str]:
    before, now = change.gauge("out")
    mix = change.mix("out")[1]
    label = change.component.label
    given = change.now.supplied(change.component)
    if not given:
        yield f"{label}: no supply from the wall; the pressure downstream is {supply_text(now)}."
    elif abs(now - before) > SUPPLY_CHANGE_PA:
        yield f"{label}: {supply_text(now)} instead of {supply_text(before)}."
    if given and mix and foreign_share(mix, change.component.gas) > SHARE_CHANGE:
        yield f"{label}: {mix_text(mix)} enters."


def _yoke(change: Change) -> Iterator[str]:
    flow = change.now_flow()
    if flow and change.has_new_flow():
        way = "leaves the cylinder" if flow.value_m3_s > 0 else "enters the cylinder"
        if flow.value_m3_s < 0 and change.now_flow("open in"):
            way = "leaves by the empty yoke"
        yield f"{change.component.label}: {flow_text(flow.value_m3_s)} of {mix_text(flow.mix)} {way}."


def _regulator(change: Change) -> Iterator[str]:
    before, now = change.gauge("out")
    if change.has_new_flow() or now - before > SUPPLY_CHANGE_PA:
        flow = change.flow()[1]
        yield f"{change.component.label}: {supply_text(now)} at its outlet, {flow_text(flow)} through it."


def _check_valve(change: Change) -> Iterator[str]:
    flow = change.now_flow()
    if flow and flow.value_m3_s < -FLOW_CHANGE_M3_S:
        yield f"{change.component.label}: {flow_text(flow.value_m3_s)} flows back through it."


def _cut_off(change: Change) -> Iterator[str]:
    """A valve in the line of another gas, held open by oxygen pressure."""
    pilot_before, pilot = change.gauge("oxygen")
    before, now = change.flow()
    if abs(pilot - pilot_before) < SUPPLY_CHANGE_PA and not change.has_new_flow():
        return
    cut = change.component.values.get("cut_pressure", ELEMENTS[change.component.kind].values["cut_pressure"].default)
    below = f", below the {supply_text(cut)} at which it shuts" if pilot < cut else ""
    if now < FLOW_CHANGE_M3_S and below:
        yield f"{change.component.label}: its oxygen pressure is {supply_text(pilot)}{below}: it is shut."
    elif now < FLOW_CHANGE_M3_S:
        yield f"{change.component.label}: no flow, {flow_text(before)} before."
    elif pilot < pilot_before - SUPPLY_CHANGE_PA:
        on_it = f"its oxygen pressure is {supply_text(pilot)}{below}"
        yield f"{change.component.label}: {on_it}; {flow_text(now)} still passes."
    elif change.has_new_flow():
        yield f"{change.component.label}: {flow_text(now)} passes, {flow_text(before)} before."


def _control(change: Change) -> Iterator[str]:
    before, now = change.flow()
    if change.has_new_flow():
        if abs(now) < FLOW_CHANGE_M3_S:
            yield f"{change.component.label}: no flow, {flow_text(before)} before."
        else:
            gas = change.now_flow().mix
            yield f"{change.component.label}: {flow_text(now)} of {mix_text(gas)} passes, {flow_text(before)} before."


def _mixer(change: Change) -> Iterator[str]:
    for name in sorted(flow.name for flow in change.now.solution.flows_of(change.component.code)):
        if change.has_new_flow(name):
            before, now = change.flow(name)
            yield f"{change.component.label}, {name}: {flow_text(now)} passes, {flow_text(before)} before."


def _ratio(change: Change) -> Iterator[str]:
    yield from _mixer(change)


def _vaporizer(change: Change) -> Iterator[str]:
    before, now = (mix.agents if mix else {} for mix in change.mix("out"))
    came, _ = change.mix("in")[1], None
    own = {agent: share for agent, share in now.items() if share > (came.share(agent) if came else 0.0) + AGENT_CHANGE}
    differs = any(abs(now.get(agent, 0.0) - before.get(agent, 0.0)) > AGENT_CHANGE for agent in {*now, *before})
    if differs and own:
        yield f"{change.component.label}: {agents_text(now)} in the gas downstream."
    elif differs and not any(share > AGENT_CHANGE for share in now.values()):
        yield f"{change.component.label}: adds no vapour."


def _flush(change: Change) -> Iterator[str]:
    flow = change.now_flow()
    if flow and change.has_new_flow():
        gas = f"{flow_text(flow.value_m3_s)} of {mix_text(flow.mix)}"
        yield f"{change.component.label}: {gas} goes straight to the outlet."


def _vent(change: Change) -> Iterator[str]:
    """All flow from a component into the room."""
    for flow in sorted(change.now.solution.flows_of(change.component.code), key=lambda flow: flow.name):
        name = flow.name
        if ROOM in (flow.a, flow.b) and change.has_new_flow(name):
            outward = (flow.b == ROOM) == (flow.value_m3_s > 0)
            if abs(flow.value_m3_s) < FLOW_CHANGE_M3_S:
                continue
            if outward:
                yield f"{change.component.label}: {flow_text(flow.value_m3_s)} escapes into the room."
            elif abs(change.flow(name)[0]) < FLOW_CHANGE_M3_S:
                yield f"{change.component.label}: {flow_text(flow.value_m3_s)} of room air is drawn in."


def _outlet(change: Change) -> Iterator[str]:
    flow = change.now_flow()
    before = change.mix("in")[0]
    if flow is None or abs(flow.value_m3_s) < FLOW_CHANGE_M3_S:
        yield f"{change.component.label}: no gas leaves." if change.has_new_flow() else ""
        return
    differs = before and any(
        abs(x - y) > SHARE_CHANGE for x, y in zip(before.fractions, flow.mix.fractions, strict=True)
    )
    if change.has_new_flow() or differs:
        yield f"{change.component.label}: {flow_text(flow.value_m3_s)} leaves: {mix_text(flow.mix)}."


def _bag(change: Change) -> Iterator[str]:
    before, now = change.gauge("in")
    if abs(now - before) > AIRWAY_CHANGE_PA:
        yield f"{change.component.label}: {airway_text(now)}, {airway_text(before)} before."


def _patient(change: Change) -> Iterator[str]:
    before, now = change.before, change.now
    if now.airway and before.airway:
        old, new = before.airway[1], now.airway[1]
        if abs(new - old) > AIRWAY_CHANGE_PA:
            yield f"{change.component.label}: {airway_text(new)}, {airway_text(old)} before."
    if now.inspired and before.inspired:
        old, new = before.inspired.share("oxygen"), now.inspired.share("oxygen")
        if now.stands_still:
            words = "no fresh gas arrives; the patient rebreathes what was in the breathing system."
            yield f"{change.component.label}: {words}"
        elif abs(new - old) > SHARE_CHANGE:
            yield f"{change.component.label}: breathes {of_gas(new, 'oxygen')}, {share_text(old)} before."


_TELLERS: Mapping[str, Callable[[Change], Iterator[str]]] = {
    "pipeline-inlet": _inlet,
    "cylinder-yoke": _yoke,
    "check-valve": _check_valve,
    "pressure-regulator": _regulator,
    "pipe-relief-valve": _vent,
    "supply-failure-valve": _cut_off,
    "regulator-cutoff": _cut_off,
    "flow-control": _control,
    "ratio-protection": _ratio,
    "electronic-mixer": _mixer,
    "flow-bank": _vent,
    "measured-flow-vaporizer": _vaporizer,
    "vaporizer": _vaporizer,
    "vaporizer-rail": _vent,
    "flush-valve": _flush,
    "relief-valve": _vent,
    "outlet": _outlet,
    "reservoir-bag": _bag,
    "scavenging-interface": _vent,
    "patient-connection": _patient,
}
