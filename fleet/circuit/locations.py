"""Finds places in a circuit: what is downstream, where fresh gas leaves, where the patient breathes."""

from collections.abc import Iterable

from fleet.circuit.structure import Circuit, Component, Connection

SUPPLIES = ("pipeline-inlet", "cylinder-yoke")
BREATHING_KINDS = (
    "outlet", "outlet-selector", "breathing-hose", "absorber", "one-way-valve", "apl-valve", "reservoir-bag",
    "bag-vent-selector", "ventilator", "patient-connection",
)  # fmt: skip


def patient_of(circuit: Circuit) -> Component | None:
    """Return the patient connection, the first by code; None in a circuit without breathing system."""
    return circuit.once(_patient)


def _patient(circuit: Circuit) -> Component | None:
    return min(circuit.of_kind("patient-connection"), key=lambda component: component.code, default=None)


def outlet_of(circuit: Circuit) -> Component | None:
    """Return the common gas outlet, the first by code."""
    return circuit.once(_outlet)


def _outlet(circuit: Circuit) -> Component | None:
    return min(circuit.of_kind("outlet"), key=lambda component: component.code, default=None)


def gases_of(circuit: Circuit) -> tuple[str, ...]:
    """Return the gases that the machine is supplied with, oxygen first."""
    gases = {component.gas for component in circuit.of_kind(*SUPPLIES) if component.gas}
    return tuple(sorted(gases, key=lambda gas: (gas != "oxygen", gas)))


def downstream(circuit: Circuit, starts: Iterable[str], *, stop_at: Iterable[str] = ()) -> frozenset[str]:
    """Return the codes of the components that gas reaches from these ones along the connections, these included.

    The search reaches components of the kinds in `stop_at` and does not go beyond them.
    """
    stops, by_code = frozenset(stop_at), {component.code: component for component in circuit.components}
    reached, waiting = set(), [code for code in starts if code in by_code]
    while waiting:
        code = waiting.pop()
        if code in reached:
            continue
        reached.add(code)
        if by_code[code].kind not in stops:
            waiting += [
                connection.target.component for connection in circuit.connections if connection.source.component == code
            ]
    return frozenset(reached) & frozenset(by_code)


def breathing_components(circuit: Circuit) -> frozenset[str]:
    """Return the codes of the components from the outlet and around the patient, without those that carry waste gas."""
    return circuit.once(_breathing)


def _breathing(circuit: Circuit) -> frozenset[str]:
    if patient_of(circuit) is None:
        return frozenset()
    return frozenset(component.code for component in circuit.of_kind(*BREATHING_KINDS)) - waste_components(circuit)


def waste_components(circuit: Circuit) -> frozenset[str]:
    """Return the codes of the components that carry only waste gas: from the vent of an APL valve to the interface."""
    return circuit.once(_waste)


def _waste(circuit: Circuit) -> frozenset[str]:
    vents = {
        connection.target.component
        for connection in circuit.connections
        if connection.source.name in ("vent", "exhaust")
        and circuit.component(connection.source.component).kind in ("apl-valve", "ventilator")
    }
    return downstream(circuit, vents)


def waste_connections(circuit: Circuit) -> tuple[Connection, ...]:
    """Return the connections that lead waste gas away from an APL valve or a ventilator, in order."""
    waste = waste_components(circuit)
    return tuple(
        sorted((connection for connection in circuit.connections if connection.target.component in waste), key=str)
    )


def breathing_connections(circuit: Circuit) -> tuple[Connection, ...]:
    """Return the connections between outlet and patient and around the circle, in order."""
    inside = breathing_components(circuit)
    return tuple(
        sorted((j for j in circuit.connections if {j.source.component, j.target.component} <= inside), key=str)
    )


def connects(circuit: Circuit, kind: str) -> bool:
    """Return whether a port of that kind in the circuit is connected to anything."""
    codes = {component.code for component in circuit.of_kind(kind)}
    return any({connection.source.component, connection.target.component} & codes for connection in circuit.connections)
