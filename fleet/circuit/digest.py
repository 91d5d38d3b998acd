"""A digest by which equal circuits are recognised: machines with the same circuit share one cover table."""

import json
from hashlib import sha256

from fleet.circuit.structure import Circuit


def circuit_digest(circuit: Circuit) -> str:
    """Return 64 hex digits that do not depend on the order of components, connections, values, options and fittings.

    They cover all that a cover table shows or is computed from: components with labels, values and options, connections
    with sizes, fittings, ambient pressure. Code and title of the circuit are left out.
    """
    content = {
        "parts": sorted(_component(component) for component in circuit.components),
        "joints": sorted([*connection.source, *connection.target, connection.size] for connection in circuit.connections),
        "fittings": sorted(circuit.fittings),
        "ambient_pa_abs": float(circuit.ambient_pa_abs),
    }
    text = json.dumps(content, sort_keys=True, ensure_ascii=True, separators=(",", ":"))
    return sha256(text.encode()).hexdigest()


def _component(component) -> str:
    values = {key: float(value) for key, value in component.values.items()}
    content = [component.code, component.kind, component.label, component.gas, values, dict(component.options)]
    return json.dumps(content, sort_keys=True, ensure_ascii=True, separators=(",", ":"))
