"""Adds one safety feature to a circuit: a component in its proper place, or a fitting."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from types import MappingProxyType

from fleet.circuit.locations import outlet_of, patient_of, waste_joints
from fleet.circuit.structure import Circuit, Joint, Part, Port
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
    taken = {part.code for part in circuit.parts}
    return next(code for n in range(1, len(taken) + 2) if (code := wanted if n == 1 else f"{wanted}-{n}") not in taken)


def _with(circuit: Circuit, parts: Iterable[Part] = (), joints: Iterable[Joint] = (), without=()) -> Circuit:
    kept = tuple(joint for joint in circuit.joints if joint not in set(without))
    return replace(circuit, parts=(*circuit.parts, *parts), joints=(*kept, *joints))


def _inserted(circuit: Circuit, part: Part, joints: Iterable[Joint], more: Iterable[Joint] = ()) -> Circuit:
    """Return the circuit with a component inserted into connections: their gas then passes through the component."""
    joints = tuple(joints)
    before = tuple(replace(joint, target=Port(part.code, "in")) for joint in joints)
    after = {replace(joint, source=Port(part.code, "out"), size="") for joint in joints}
    return _with(circuit, [part], [*before, *sorted(after, key=str), *more], joints)


def _into(circuit: Circuit, *ports: Port) -> tuple[Joint, ...]:
    return tuple(joint for joint in circuit.joints if joint.target in ports)


def oxygen_place(circuit: Circuit) -> Port | None:
    """Return the port through which oxygen reaches its flow control or the mixer; None if there is neither."""
    for part in controls_of(circuit, "oxygen"):
        return Port(part.code, "in")
    for part in circuit.of_kind("electronic-mixer"):
        return Port(part.code, "oxygen-in")
    return None


def _supply_failure(circuit: Circuit) -> Circuit | None:
    """A cut-off valve in the line of each other gas, before its control, piloted from the oxygen line."""
    pilot = oxygen_place(circuit)
    if pilot is None:
        return None
    for gas in controlled_gases(circuit)[1:]:
        if any(part.gas == gas for part in circuit.of_kind("supply-failure-valve", "regulator-cutoff")):
            continue
        ports = [Port(part.code, "in") for part in controls_of(circuit, gas)]
        ports += [Port(part.code, f"{gas}-in") for part in circuit.of_kind("electronic-mixer")]
        joints = _into(circuit, *ports)
        if not joints:
            continue
        code = _free_code(circuit, f"added-{gas}-cut-off-valve")
        label = f"{gas_name(gas).capitalize()} cut-off valve (added)"
        valve = Part(code, "supply-failure-valve", label, gas)
        circuit = _inserted(circuit, valve, joints, [Joint(pilot, Port(code, "oxygen"))])
    return circuit


def _alarm(circuit: Circuit) -> Circuit | None:
    place = oxygen_place(circuit)
    if place is None:
        return None
    code = _free_code(circuit, "added-oxygen-alarm")
    part = Part(code, "oxygen-alarm", "Oxygen supply alarm (added)", "oxygen")
    return _with(circuit, [part], [Joint(place, Port(code, "in"))])


def _ratio(circuit: Circuit) -> Circuit | None:
    oxygen, other = controls_of(circuit, "oxygen"), controls_of(circuit, "nitrous-oxide")
    if not oxygen or not other:
        return None
    options = MappingProxyType({"oxygen_control": oxygen[0].code, "other_control": other[0].code})
    code = _free_code(circuit, "added-ratio-link")
    return _with(circuit, [Part(code, "ratio-link", "Ratio link (added)", options=options)])


def _exclusion(circuit: Circuit) -> Circuit | None:
    dials = vaporizers_of(circuit)
    if len(dials) < 2:
        return None
    options = MappingProxyType({"vaporizers": " ".join(part.code for part in dials)})
    code = _free_code(circuit, "added-exclusion-bar")
    return _with(circuit, [Part(code, "exclusion-bar", "Exclusion bar (added)", options=options)])


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
        return _with(circuit, [Part(code, kind, label, options=options)], [Joint(place, Port(code, "in"))])

    return adding


def _outlet_check(circuit: Circuit) -> Circuit | None:
    outlet = outlet_of(circuit)
    flushes = {part.code for part in circuit.of_kind("flush-valve")}
    joints = [j for j in _into(circuit, Port(outlet.code, "in")) if j.source.part not in flushes] if outlet else []
    if not joints:
        return None
    code = _free_code(circuit, "added-outlet-check-valve")
    options = MappingProxyType({"place": "outlet"})
    return _inserted(circuit, Part(code, "check-valve", "Outlet check valve (added)", options=options), joints)


def checked_by(circuit: Circuit, supply: Part, place: str) -> bool:
    """Return whether a check valve of that place follows a yoke or an inlet, with at most filters in between."""
    kinds = {part.code: part for part in circuit.parts}
    waiting, seen = [supply.code], set()
    while waiting:
        code = waiting.pop()
        seen.add(code)
        for joint in circuit.joints:
            part = kinds.get(joint.target.part)
            if joint.source.part != code or joint.source.name != "out" or part is None or part.code in seen:
                continue
            if part.kind == "check-valve" and part.options.get("place") == place:
                return True
            if part.kind == "filter":
                waiting.append(part.code)
    return False


def _supply_checks(kind: str, place: str, label: str) -> Callable:
    def adding(circuit: Circuit) -> Circuit:
        for supply in sorted(circuit.of_kind(kind), key=lambda part: part.code):
            if not checked_by(circuit, supply, place):
                circuit = _checked(circuit, supply, place, label)
        return circuit

    return adding


def _checked(circuit: Circuit, supply: Part, place: str, label: str) -> Circuit:
    """Return the circuit with a check valve at the outlet of a supply; what was connected there follows the valve."""
    out = Port(supply.code, "out")
    code = _free_code(circuit, f"added-{supply.code}-check-valve")
    valve = Part(code, "check-valve", f"{supply.label} {label} (added)", supply.gas, options=_place(place))
    behind = Port(code, "out")
    gauges = {part.code for part in circuit.of_kind("gauge")}
    moved = [j for j in circuit.joints if out in (j.source, j.target) and j.target.part not in gauges]
    joints = [
        replace(j, source=behind if j.source == out else j.source, target=behind if j.target == out else j.target)
        for j in moved
    ]
    return _with(circuit, [valve], [Joint(out, Port(code, "in")), *joints], moved)


def _place(place: str) -> Mapping[str, str]:
    return MappingProxyType({"place": place})


def _outlet_relief(circuit: Circuit) -> Circuit | None:
    outlet = outlet_of(circuit)
    if outlet is None:
        return None
    code = _free_code(circuit, "added-relief-valve")
    part = Part(code, "relief-valve", "Machine relief valve (added)")
    return _with(circuit, [part], [Joint(Port(outlet.code, "in"), Port(code, "in"))])


def _oxygen_last(circuit: Circuit) -> Circuit | None:
    """Oxygen enters the bank downstream of the other gases."""
    banks = {part.code for part in circuit.of_kind("flow-bank")}
    oxygen = {part.code for part in circuit.parts if part.gas == "oxygen"}
    first = [j for j in circuit.joints if j.target.part in banks and j.target.name == "in" and j.source.part in oxygen]
    last = [replace(joint, target=Port(joint.target.part, "out")) for joint in first]
    return _with(circuit, (), last, first) if first else None


def _scavenging_30(circuit: Circuit) -> Circuit | None:
    joints = waste_joints(circuit)
    changed = [replace(joint, size=SCAVENGING_SIZE) for joint in joints]
    altered = _with(circuit, (), changed, joints)
    return replace(altered, fittings=circuit.fittings | {"scavenging-30mm"}) if joints else None


def _spill_valve_beside_bag(circuit: Circuit) -> Circuit | None:
    """The APL valve moved to the bag side of the selector, which disconnects it during mechanical ventilation."""
    selectors = circuit.of_kind("bag-vent-selector")
    valves = {part.code for part in circuit.of_kind("apl-valve")}
    if not selectors:
        return None
    beside = Port(selectors[0].code, "bag")
    joints = [j for j in circuit.joints if j.target.part in valves and j.target.name == "in" and j.source != beside]
    return _with(circuit, (), [replace(joint, source=beside) for joint in joints], joints) if joints else None


def _without_measured_flow(circuit: Circuit) -> Circuit | None:
    gone = {part.code for part in circuit.of_kind("measured-flow-vaporizer")}
    parts = tuple(part for part in circuit.parts if part.code not in gone)
    joints = tuple(j for j in circuit.joints if not {j.source.part, j.target.part} & gone)
    return replace(circuit, parts=parts, joints=joints) if gone else None


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
