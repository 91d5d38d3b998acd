"""Finds places in a circuit: what is downstream, where fresh gas leaves, where the patient breathes."""

from collections.abc import Iterable

from fleet.circuit.structure import Circuit, Joint, Part

SUPPLIES = ("pipeline-inlet", "cylinder-yoke")
BREATHING_KINDS = (
    "outlet", "breathing-hose", "absorber", "one-way-valve", "apl-valve", "reservoir-bag", "bag-vent-selector",
    "ventilator", "patient-connection",
)  # fmt: skip


def patient_of(circuit: Circuit) -> Part | None:
    """Return the patient connection, the first by code; None in a circuit without breathing system."""
    return min(circuit.of_kind("patient-connection"), key=lambda part: part.code, default=None)


def outlet_of(circuit: Circuit) -> Part | None:
    """Return the common gas outlet, the first by code."""
    return min(circuit.of_kind("outlet"), key=lambda part: part.code, default=None)


def gases_of(circuit: Circuit) -> tuple[str, ...]:
    """Return the gases that the machine is supplied with, oxygen first."""
    gases = {part.gas for part in circuit.of_kind(*SUPPLIES) if part.gas}
    return tuple(sorted(gases, key=lambda gas: (gas != "oxygen", gas)))


def downstream(circuit: Circuit, starts: Iterable[str], *, stop_at: Iterable[str] = ()) -> frozenset[str]:
    """Return the codes of the components that gas reaches from these ones along the connections, these included.

    The search reaches components of the kinds in `stop_at` and does not go beyond them.
    """
    stops, by_code = frozenset(stop_at), {part.code: part for part in circuit.parts}
    reached, waiting = set(), [code for code in starts if code in by_code]
    while waiting:
        code = waiting.pop()
        if code in reached:
            continue
        reached.add(code)
        if by_code[code].kind not in stops:
            waiting += [joint.target.part for joint in circuit.joints if joint.source.part == code]
    return frozenset(reached) & frozenset(by_code)


def breathing_parts(circuit: Circuit) -> frozenset[str]:
    """Return the codes of the components from the outlet and around the patient, without those that carry waste gas."""
    if patient_of(circuit) is None:
        return frozenset()
    return frozenset(part.code for part in circuit.of_kind(*BREATHING_KINDS)) - waste_parts(circuit)


def waste_parts(circuit: Circuit) -> frozenset[str]:
    """Return the codes of the components that carry only waste gas: from the vent of an APL valve to the interface."""
    vents = {
        joint.target.part
        for joint in circuit.joints
        if joint.source.name in ("vent", "exhaust")
        and circuit.part(joint.source.part).kind in ("apl-valve", "ventilator")
    }
    return downstream(circuit, vents)


def waste_joints(circuit: Circuit) -> tuple[Joint, ...]:
    """Return the connections that lead waste gas away from an APL valve or a ventilator, in order."""
    waste = waste_parts(circuit)
    return tuple(sorted((joint for joint in circuit.joints if joint.target.part in waste), key=str))


def breathing_joints(circuit: Circuit) -> tuple[Joint, ...]:
    """Return the connections between outlet and patient and around the circle, in order."""
    inside = breathing_parts(circuit)
    return tuple(sorted((j for j in circuit.joints if {j.source.part, j.target.part} <= inside), key=str))


def connects(circuit: Circuit, kind: str) -> bool:
    """Return whether a port of that kind in the circuit is connected to anything."""
    codes = {part.code for part in circuit.of_kind(kind)}
    return any({joint.source.part, joint.target.part} & codes for joint in circuit.joints)
