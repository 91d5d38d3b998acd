"""Adds one safety feature to a circuit: a component in its proper place, or a fitting."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from types import MappingProxyType

from fleet.circuit.locations import outlet_of, patient_of, waste_connections
from fleet.circuit.structure import Circuit, Connection, Component, Port
from fleet.circuit.usual_states import controlled_gases, controls_of, gas_name, vaporizers_of

FITTINGS = (
    "pin-index", "pipeline-gas-specific", "outlet-retention", "breathing-connectors", "flush-guard", "control-guard",
    "o2-control-profile", "keyed-filler", "dial-anticlockwise",
)  # fmt: skip
SCAVENGING_SIZE = "30 mm"


def with_feature(circuit: Circuit, code: str) -> Circuit | None:
    """Return the circuit with a feature of the catalogue fitted, or None if this circuit has no place for it.

    An unwanted feature is removed instead. Returns None for what cannot be shown by adding a component, such as
    electronic mixing.
    """
    if code in FITTINGS:
        return replace(circuit, fittings=circuit.fittings | {code})
    adding = _ADDING.get(code)
    altered = adding(circuit) if adding else None
    return None if altered is None or altered == circuit else altered


def _free_code(circuit: Circuit, wanted: str) -> str:
    taken = {component.code for component in circuit.components}
    return next(code for n in range(1, len(taken) + 2) if (code := wanted if n == 1 else f"{wanted}-{n}") not in taken)


def _with(circuit: Circuit, components: Iterable[Component] = (), connections: Iterable[Connection] = (), without=()) -> Circuit:
    kept = tuple(connection for connection in circuit.connections if connection not in set(without))
    return replace(circuit, components=(*circuit.components, *components), connections=(*kept, *connections))


def _inserted(circuit: Circuit, component: Component, connections: Iterable[Connection], more: Iterable[Connection] = ()) -> Circuit:
    """Return the circuit with a component inserted into connections: their gas then passes through the component."""
    connections = tuple(connections)
    before = tuple(replace(connection, target=Port(component.code, "in")) for connection in connections)
    after = {replace(connection, source=Port(component.code, "out"), size="") for connection in connections}
    return _with(circuit, [component], [*before, *sorted(after, key=str), *more], connections)


def _into(circuit: Circuit, *ports: Port) -> tuple[Connection, ...]:
    return tuple(connection for connection in circuit.connections if connection.target in ports)


def oxygen_place(circuit: Circuit) -> Port | None:
    """Return the port through which oxygen reaches its flow control or the mixer; None if there is neither."""
    for component in controls_of(circuit, "oxygen"):
        return Port(component.code, "in")
    for component in circuit.of_kind("electronic-mixer"):
        return Port(component.code, "oxygen-in")
    return None


def _supply_failure(circuit: Circuit) -> Circuit | None:
    """A cut-off valve in the line of each other gas, before its control, piloted from the oxygen line."""
    pilot = oxygen_place(circuit)
    if pilot is None:
        return None
    for gas in controlled_gases(circuit)[1:]:
        if any(component.gas == gas for component in circuit.of_kind("supply-failure-valve", "regulator-cutoff")):
            continue
        ports = [Port(component.code, "in") for component in controls_of(circuit, gas)]
        ports += [Port(component.code, f"{gas}-in") for component in circuit.of_kind("electronic-mixer")]
        connections = _into(circuit, *ports)
        if not connections:
            continue
        code = _free_code(circuit, f"added-{gas}-cut-off-valve")
        label = f"{gas_name(gas).capitalize()} cut-off valve (added)"
        valve = Component(code, "supply-failure-valve", label, gas)
        circuit = _inserted(circuit, valve, connections, [Connection(pilot, Port(code, "oxygen"))])
    return circuit


def _alarm(circuit: Circuit) -> Circuit | None:
    place = oxygen_place(circuit)
    if place is None:
        return None
    code = _free_code(circuit, "added-oxygen-alarm")
    component = Component(code, "oxygen-alarm", "Oxygen supply alarm (added)", "oxygen")
    return _with(circuit, [component], [Connection(place, Port(code, "in"))])


def _ratio(circuit: Circuit) -> Circuit | None:
    oxygen, other = controls_of(circuit, "oxygen"), controls_of(circuit, "nitrous-oxide")
    if not oxygen or not other:
        return None
    options = MappingProxyType({"oxygen_control": oxygen[0].code, "other_control": other[0].code})
    code = _free_code(circuit, "added-ratio-link")
    return _with(circuit, [Component(code, "ratio-link", "Ratio link (added)", options=options)])


def _exclusion(circuit: Circuit) -> Circuit | None:
    dials = vaporizers_of(circuit)
    if len(dials) < 2:
        return None
    options = MappingProxyType({"vaporizers": " ".join(component.code for component in dials)})
    code = _free_code(circuit, "added-exclusion-bar")
    return _with(circuit, [Component(code, "exclusion-bar", "Exclusion bar (added)", options=options)])


def breathed_at(circuit: Circuit) -> Port | None:
    """Return the port at which the patient's gas is measured; without a breathing system, the port of the outlet."""
    patient, outlet = patient_of(circuit), outlet_of(circuit)
    if patient:
        return Port(patient.code, "in")
    return Port(outlet.code, "in") if outlet else None


def _monitor(kind: str, label: str, options: Mapping[str, str] = MappingProxyType({})) -> Callable:
    def adding(circuit: Circuit) -> Circuit | None:
        place = breathed_at(circuit)
        if place is None:
            return None
        code = _free_code(circuit, f"added-{kind}")
        return _with(circuit, [Component(code, kind, label, options=options)], [Connection(place, Port(code, "in"))])

    return adding


def _outlet_check(circuit: Circuit) -> Circuit | None:
    outlet = outlet_of(circuit)
    flushes = {component.code for component in circuit.of_kind("flush-valve")}
    connections = [j for j in _into(circuit, Port(outlet.code, "in")) if j.source.component not in flushes] if outlet else []
    if not connections:
        return None
    code = _free_code(circuit, "added-outlet-check-valve")
    options = MappingProxyType({"place": "outlet"})
    return _inserted(circuit, Component(code, "check-valve", "Outlet check valve (added)", options=options), connections)


def checked_by(circuit: Circuit, supply: Component, place: str) -> bool:
    """Return whether a check valve of that place follows a yoke or an inlet, with at most filters in between."""
    kinds = {component.code: component for component in circuit.components}
    waiting, seen = [supply.code], set()
    while waiting:
        code = waiting.pop()
        seen.add(code)
        for connection in circuit.connections:
            component = kinds.get(connection.target.component)
            if connection.source.component != code or connection.source.name != "out" or component is None or component.code in seen:
                continue
            if component.kind == "check-valve" and component.options.get("place") == place:
                return True
            if component.kind == "filter":
                waiting.append(component.code)
    return False


def _supply_checks(kind: str, place: str, label: str) -> Callable:
    def adding(circuit: Circuit) -> Circuit:
        for supply in sorted(circuit.of_kind(kind), key=lambda component: component.code):
            if not checked_by(circuit, supply, place):
                circuit = _checked(circuit, supply, place, label)
        return circuit

    return adding


def _checked(circuit: Circuit, supply: Component, place: str, label: str) -> Circuit:
    """Return the circuit with a check valve at the outlet of a supply; what was connected there follows the valve."""
    out = Port(supply.code, "out")
    code = _free_code(circuit, f"added-{supply.code}-check-valve")
    valve = Component(code, "check-valve", f"{supply.label} {label} (added)", supply.gas, options=_place(place))
    behind = Port(code, "out")
    gauges = {component.code for component in circuit.of_kind("gauge")}
    moved = [j for j in circuit.connections if out in (j.source, j.target) and j.target.component not in gauges]
    connections = [
        replace(j, source=behind if j.source == out else j.source, target=behind if j.target == out else j.target)
        for j in moved
    ]
    return _with(circuit, [valve], [Connection(out, Port(code, "in")), *connections], moved)


def _place(place: str) -> Mapping[str, str]:
    return MappingProxyType({"place": place})


def _outlet_relief(circuit: Circuit) -> Circuit | None:
    outlet = outlet_of(circuit)
    if outlet is None:
        return None
    code = _free_code(circuit, "added-relief-valve")
    component = Component(code, "relief-valve", "Machine relief valve (added)")
    return _with(circuit, [component], [Connection(Port(outlet.code, "in"), Port(code, "in"))])


def _oxygen_last(circuit: Circuit) -> Circuit | None:
    """Oxygen enters the bank downstream of the other gases."""
    banks = {component.code for component in circuit.of_kind("flow-bank")}
    oxygen = {component.code for component in circuit.components if component.gas == "oxygen"}
    first = [j for j in circuit.connections if j.target.component in banks and j.target.name == "in" and j.source.component in oxygen]
    last = [replace(connection, target=Port(connection.target.component, "out")) for connection in first]
    return _with(circuit, (), last, first) if first else None


def _scavenging_30(circuit: Circuit) -> Circuit | None:
    connections = waste_connections(circuit)
    changed = [replace(connection, size=SCAVENGING_SIZE) for connection in connections]
    altered = _with(circuit, (), changed, connections)
    return replace(altered, fittings=circuit.fittings | {"scavenging-30mm"}) if connections else None


def _spill_valve_beside_bag(circuit: Circuit) -> Circuit | None:
    """The APL valve moved to the bag side of the selector, which disconnects it during mechanical ventilation."""
    selectors = circuit.of_kind("bag-vent-selector")
    valves = {component.code for component in circuit.of_kind("apl-valve")}
    if not selectors:
        return None
    beside = Port(selectors[0].code, "bag")
    connections = [j for j in circuit.connections if j.target.component in valves and j.target.name == "in" and j.source != beside]
    return _with(circuit, (), [replace(connection, source=beside) for connection in connections], connections) if connections else None


def _without_measured_flow(circuit: Circuit) -> Circuit | None:
    gone = {component.code for component in circuit.of_kind("measured-flow-vaporizer")}
    components = tuple(component for component in circuit.components if component.code not in gone)
    connections = tuple(j for j in circuit.connections if not {j.source.component, j.target.component} & gone)
    return replace(circuit, components=components, connections=connections) if gone else None


_ADDING: Mapping[str, Callable[[Circuit], Circuit | None]] = MappingProxyType(
    {
        "o2-failure-protection": _supply_failure,
        "o2-supply-alarm": _alarm,
        "ratio-protection": _ratio,
        "vaporizer-exclusion": _exclusion,
        "o2-analyser": _monitor("oxygen-analyser", "Oxygen analyser (added)"),
        "airway-pressure-alarm": _monitor(
            "airway-pressure-monitor", "Airway pressure alarm (added)", MappingProxyType({"alarms": "high"})
        ),
        "low-pressure-alarm": _monitor(
            "airway-pressure-monitor", "Low-pressure alarm (added)", MappingProxyType({"alarms": "low"})
        ),
        "outlet-check-valve": _outlet_check,
        "yoke-check-valve": _supply_checks("cylinder-yoke", "yoke", "check valve"),
        "pipeline-check-valve": _supply_checks("pipeline-inlet", "pipeline", "check valve"),
        "outlet-relief": _outlet_relief,
        "o2-last": _oxygen_last,
        "scavenging-30mm": _scavenging_30,
        "apl-excluded": _spill_valve_beside_bag,
        "measured-flow-vaporizer": _without_measured_flow,
    }
)
ADDABLE: tuple[str, ...] = (*FITTINGS, *_ADDING)
PREVENTING = frozenset({*FITTINGS, "scavenging-30mm"})  # these do not act on gas, they prevent causes
TELLING = frozenset({"o2-supply-alarm", "o2-analyser", "airway-pressure-alarm", "low-pressure-alarm"})
