"""Derives from a circuit which safety features it has, and compares that with what is recorded.

Where the gas flow decides, the circuit is solved: supply-failure protection is found only if the other gas stops when
oxygen pressure is lost, whatever components there are. A feature that a circuit cannot show has no entry.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from fleet.catalogue import FEATURES
from fleet.circuit.additions import checked_by
from fleet.circuit.effects import Seen
from fleet.circuit.features_present import Protections, has_oxygen_last
from fleet.circuit.hazard_limits import limit_si
from fleet.circuit.locations import breathing_connections, outlet_of, patient_of, waste_connections
from fleet.circuit.quantity_words import agents_text, flow_text, listed, of_gas
from fleet.circuit.solution import NoSolution
from fleet.circuit.solved_states import Bench, Looked
from fleet.circuit.state import State
from fleet.circuit.structure import Circuit
from fleet.circuit.usual_states import (
    controlled_gases,
    controls_of,
    gas_name,
    gases_of,
    only,
    ordinary_dial,
    ordinary_state,
    set_flow,
    vaporizers_of,
)

FITTED, NOT_FITTED = "fitted", "not fitted"
BREATHING_SIZES = frozenset({"15 mm", "22 mm"})


@dataclass(frozen=True, slots=True)
class Derived:
    """What a circuit shows of a feature: "fitted" or "not fitted", and the reason in a sentence."""

    state: str
    because: str


@dataclass(frozen=True, slots=True)
class Contradiction:
    """A feature whose record differs from what the circuit shows."""

    feature: str
    recorded: str
    shown: str
    because: str

    def __str__(self):
        name = FEATURES[self.feature].name
        return f"{name} is recorded as {self.recorded}, but the circuit shows it as {self.shown}: {self.because}"


def derived_features(circuit: Circuit) -> Mapping[str, Derived]:
    """Return what the circuit shows of each feature, by code, in the order of the catalogue."""
    asked = Asked(circuit)
    found = {code: derived for code, derived in _everything(asked)}
    return {code: found[code] for code in FEATURES if code in found}


def contradictions(derived: Mapping[str, Derived], recorded: Mapping[str, str]) -> tuple[Contradiction, ...]:
    """Return the features that are recorded as fitted and shown as not fitted, or the other way round.

    recorded  feature code -> "fitted", "not fitted" or "not known"; "not known" contradicts nothing, nor does "not
              fitted" for a feature whose function a recorded feature fulfils
    """
    found = []
    for code, shown in derived.items():
        state = recorded.get(code)
        if state not in (FITTED, NOT_FITTED) or state == shown.state:
            continue
        others = (recorded.get(other) for other in FEATURES[code].fulfilled_by)
        if state == NOT_FITTED and FITTED in others:
            continue
        found.append(Contradiction(code, state, shown.state, shown.because))
    return tuple(found)


class Asked:
    """A circuit examined for its safety features, by structure and in the states that show them."""

    def __init__(self, circuit: Circuit):
        self.circuit, self.bench = circuit, Bench(circuit)
        self.ordinary = ordinary_state(circuit)
        self.protections = Protections(circuit, self.ordinary)

    def look(self, state: State) -> Looked | None:
        """Return a solved state; None if it has no solution, so that nothing is derived from it."""
        try:
            return self.bench.look(state)
        except NoSolution:
            return None

    def without_oxygen(self, state: State) -> State:
        """Return the state with no oxygen from wall or cylinder."""
        for component in self.circuit.of_kind("pipeline-inlet", "cylinder-yoke"):
            if component.gas == "oxygen":
                empty = {"supply_gas": ""} if component.kind == "pipeline-inlet" else {"is_open": 0.0}
                state = state.with_settings(component.code, **empty)
        return state

    def metered(self, seen: Seen, gas: str) -> float:
        """Return the flow of a gas through its controls, m3/s."""
        codes = {component.code for component in controls_of(self.circuit, gas)}
        name = gas.replace("-", " ")
        mixers = {component.code for component in self.circuit.of_kind("electronic-mixer")}
        flows = seen.solution.flows.values()
        own = sum(max(flow.value_m3_s, 0.0) for flow in flows if flow.component in codes and flow.name == "through")
        return own + sum(max(flow.value_m3_s, 0.0) for flow in flows if flow.component in mixers and flow.name == name)


def _everything(asked: Asked) -> Iterator[tuple[str, Derived]]:
    for code, derive in _BY_SOLVING.items():
        if (derived := derive(asked)) is not None:
            yield code, derived
    for code, kinds in BY_COMPONENT.items():
        components = [component.label for component in asked.circuit.of_kind(*kinds)]
        if components:
            yield code, Derived(FITTED, f"The circuit has {listed(components)}.")
        elif code not in asked.circuit.fittings:
            yield code, Derived(NOT_FITTED, f"The circuit has no {_kind_words(kinds)}.")
    for code, kind, place in (
        ("yoke-check-valve", "cylinder-yoke", "yoke"),
        ("pipeline-check-valve", "pipeline-inlet", "pipeline"),
    ):
        if (derived := _checked(asked.circuit, kind, place)) is not None:
            yield code, derived
    yield from _sizes(asked.circuit)


def _kind_words(kinds: tuple[str, ...]) -> str:
    return " or ".join(kind.replace("-", " ") for kind in kinds)


def _shown(is_there: bool, because: str) -> Derived:
    return Derived(FITTED if is_there else NOT_FITTED, because)


def _supply_failure(asked: Asked) -> Derived | None:
    """Whether nitrous oxide (else the first other gas) still flows when it is on and oxygen is lost."""
    others = [gas for gas in controlled_gases(asked.circuit) if gas != "oxygen"]
    if not others or "oxygen" not in gases_of(asked.circuit):
        return None
    judged = "nitrous-oxide" if "nitrous-oxide" in others else others[0]
    flows = {}
    for gas in others:
        looked = asked.look(asked.without_oxygen(only(asked.circuit, asked.ordinary, gas)))
        if looked is not None:
            flows[gas] = asked.metered(looked.seen, gas)
    if judged not in flows:
        return None
    stops = flows[judged] < limit_si("standing-flow")
    words = [f"{gas_name(gas)} {flow_text(flow)}" for gas, flow in flows.items()]
    return _shown(stops, f"With oxygen lost and the other gas set to 4 L/min, the flow is: {listed(words)}.")


def _supply_alarm(asked: Asked) -> Derived | None:
    looked = asked.look(asked.without_oxygen(asked.ordinary))
    if looked is None:
        return None
    tells = "o2-supply-alarm" in looked.telling(["o2-supply-alarm"])
    return _shown(tells, f"With oxygen lost {'an alarm sounds' if tells else 'no alarm sounds'}.")


def _ratio(asked: Asked) -> Derived | None:
    """Whether oxygen still flows when its control is shut while nitrous oxide is on."""
    if "nitrous-oxide" not in controlled_gases(asked.circuit):
        return None
    state = set_flow(asked.circuit, only(asked.circuit, asked.ordinary, "nitrous-oxide"), "oxygen", 0.0)
    looked = asked.look(state)
    if looked is None:
        return None
    other, oxygen = asked.metered(looked.seen, "nitrous-oxide"), looked.seen.outlet_oxygen
    holds = other < limit_si("standing-flow") or oxygen / (oxygen + other) > 0.2
    flows = f"{flow_text(other)} of nitrous oxide and {flow_text(oxygen)} of oxygen"
    return _shown(holds, f"With the oxygen control shut, the flows are {flows}.")


def _exclusion(asked: Asked) -> Derived | None:
    dials = vaporizers_of(asked.circuit)
    if len(dials) < 2:
        return None
    state = asked.ordinary
    for component in dials:
        state = state.with_settings(component.code, dial=ordinary_dial(component))
    looked = asked.look(state)
    if looked is None:
        return None
    vapours = looked.seen.fresh_agents
    limit = limit_si("second-agent")
    same = len({component.options.get("agent") for component in dials}) < len(dials)
    if same:
        return None  # the same agent in two of them: the gas does not show where it came from
    one = sum(share > limit for share in vapours.values()) < 2
    return _shown(one, f"With every dial on, the outlet delivers {agents_text(vapours)}.")


def _analyser(asked: Asked) -> Derived | None:
    """Whether an analyser alarms when the oxygen pipeline or cylinder holds nitrous oxide."""
    state = asked.ordinary
    for component in asked.circuit.of_kind("pipeline-inlet", "cylinder-yoke"):
        if component.gas == "oxygen":
            key = "supply_gas" if component.kind == "pipeline-inlet" else "cylinder_gas"
            state = state.with_settings(component.code, **{key: "nitrous-oxide"})
    looked = asked.look(state)
    if looked is None or looked.seen.inspired is None:
        return None
    tells = bool(looked.telling(["o2-analyser"]))
    breathes = of_gas(looked.seen.inspired.share("oxygen"), "oxygen")
    says = "an oxygen analyser alarms" if tells else "nothing alarms"
    return _shown(tells, f"With nitrous oxide in the oxygen supply the patient breathes {breathes}, and {says}.")


def _spill_valve_out(asked: Asked) -> Derived | None:
    """Whether gas leaves by the open APL valve while the ventilator is selected."""
    selectors, valves = asked.circuit.of_kind("bag-vent-selector"), asked.circuit.of_kind("apl-valve")
    if not asked.circuit.of_kind("ventilator") or not valves:
        return None
    state = asked.ordinary
    for component in selectors:
        state = state.with_settings(component.code, position="ventilator")
    for component in valves:
        state = state.with_settings(component.code, set_pressure=0.0)
    looked = asked.look(state)
    if looked is None:
        return None
    leaves = sum(abs(looked.solution.flow(component.code).value_m3_s) for component in valves)
    because = f"With the ventilator selected and {valves[0].label} open, {flow_text(leaves)} leaves there."
    return _shown(leaves < limit_si("standing-flow"), because)


def _oxygen_last(asked: Asked) -> Derived | None:
    if not asked.circuit.of_kind("flow-bank") or len(controlled_gases(asked.circuit)) < 2:
        return None
    last = has_oxygen_last(asked.circuit)
    return _shown(last, f"Oxygen enters the flowmeter bank {'after' if last else 'together with'} the other gases.")


def _outlet_check(asked: Asked) -> Derived | None:
    """A check valve between vaporizers and outlet; its option names this place."""
    if outlet_of(asked.circuit) is None:
        return None
    components = [component.label for component in asked.circuit.of_kind("check-valve") if component.options.get("place") == "outlet"]
    words = f"The circuit has {listed(components)}." if components else "There is no check valve between vaporizers and outlet."
    return _shown(bool(components), words)


def _single_control(asked: Asked) -> Derived | None:
    gases = [gas for gas in controlled_gases(asked.circuit) if controls_of(asked.circuit, gas)]
    if not gases:
        return None
    doubled = [gas_name(gas) for gas in gases if len(controls_of(asked.circuit, gas)) > 1]
    if doubled:
        return _shown(False, f"More than one control feeds {listed(doubled)} to the outlet.")
    return _shown(True, "Each gas has one control that feeds the outlet.")


def _alarm(code: str, words: str) -> Callable[[Asked], Derived | None]:
    def derive(asked: Asked) -> Derived | None:
        if patient_of(asked.circuit) is None:
            return None
        components = [asked.circuit.component(one).label for one in asked.protections.components_with(code)]
        return _shown(bool(components), f"The circuit has {listed(components)}." if components else f"The circuit has no {words}.")

    return derive


def _checked(circuit: Circuit, kind: str, place: str) -> Derived | None:
    supplies = sorted(circuit.of_kind(kind), key=lambda component: component.code)
    if not supplies:
        return None
    bare = [component.label for component in supplies if not checked_by(circuit, component, place)]
    if bare:
        return _shown(False, f"There is no check valve downstream of {listed(bare)}.")
    return _shown(True, f"There is a check valve downstream of {listed([component.label for component in supplies])}.")


def _sizes(circuit: Circuit) -> Iterator[tuple[str, Derived]]:
    """The features that connector sizes show; nothing is derived from unknown sizes."""
    waste = sorted({connection.size for connection in waste_connections(circuit) if connection.size})
    if waste:
        because = f"The waste gas connections are {listed(waste)}."
        yield "scavenging-30mm", _shown(waste == ["30 mm"], because)
        yield "scavenging-breathing-size", _shown(bool(BREATHING_SIZES & set(waste)), because)
    breath = sorted({connection.size for connection in breathing_connections(circuit) if connection.size})
    if breath:
        yield (
            "breathing-connectors",
            _shown(set(breath) <= BREATHING_SIZES, f"The breathing connections are {listed(breath)}."),
        )


_BY_SOLVING: Mapping[str, Callable[[Asked], Derived | None]] = MappingProxyType(
    {
        "o2-failure-protection": _supply_failure,
        "o2-supply-alarm": _supply_alarm,
        "ratio-protection": _ratio,
        "vaporizer-exclusion": _exclusion,
        "o2-analyser": _analyser,
        "apl-excluded": _spill_valve_out,
        "o2-last": _oxygen_last,
        "outlet-check-valve": _outlet_check,
        "single-control": _single_control,
        "airway-pressure-alarm": _alarm("airway-pressure-alarm", "monitor that alarms on high airway pressure"),
        "low-pressure-alarm": _alarm("low-pressure-alarm", "monitor that alarms on missing airway pressure"),
    }
)
# By the component that provides it; a circuit without one shows it as not fitted unless its fittings name it.
BY_COMPONENT: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "electronic-mixing": ("electronic-mixer",),
        "measured-flow-vaporizer": ("measured-flow-vaporizer",),
        "outlet-relief": ("relief-valve",),
        "outlet-retention": ("outlet-lock",),
        "bag-vent-selector": ("bag-vent-selector",),
        "scavenging-relief": ("scavenging-interface",),
        "main-switch": ("main-switch",),
        "yoke-filter": ("filter",),
        "battery-reserve": ("battery",),
    }
)
