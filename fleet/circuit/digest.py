"""A number for a circuit by which two equal ones are known: one cover table serves all machines that share it."""

import json
from hashlib import sha256

from fleet.circuit.structure import Circuit


def circuit_digest(circuit: Circuit) -> str:
    """Return 64 hex digits that are the same for any order of parts, joints, values, options and fittings.

    Everything counts that a cover table shows or rests on: parts with labels, values and options, joints with sizes,
    fittings, ambient pressure. Code and title of the circuit do not.
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
