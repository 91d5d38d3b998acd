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
        "parts": sorted(_part(part) for part in circuit.parts),
        "joints": sorted([*joint.source, *joint.target, joint.size] for joint in circuit.joints),
        "fittings": sorted(circuit.fittings),
        "ambient_pa_abs": float(circuit.ambient_pa_abs),
    }
    text = json.dumps(content, sort_keys=True, ensure_ascii=True, separators=(",", ":"))
    return sha256(text.encode()).hexdigest()


def _part(part) -> str:
    values = {key: float(value) for key, value in part.values.items()}
    content = [part.code, part.kind, part.label, part.gas, values, dict(part.options)]
    return json.dumps(content, sort_keys=True, ensure_ascii=True, separators=(",", ":"))
