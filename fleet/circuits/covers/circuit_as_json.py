"""Converts a circuit to JSON data and back: for files, and for other processes."""

from collections.abc import Mapping
from dataclasses import fields
from typing import Any

from fleet.circuit.structure import Circuit, Component, Connection, Port


def circuit_to_dict(circuit: Circuit) -> dict[str, Any]:
    """Return all of a circuit but its code and its title."""
    return {
        "components": [_component_to_dict(component) for component in circuit.components],
        "connections": [[*each.source, *each.target, each.size] for each in circuit.connections],
        "fittings": sorted(circuit.fittings),
        "ambient_pa_abs": circuit.ambient_pa_abs,
    }


def _component_to_dict(component: Component) -> dict[str, Any]:
    told = {field.name: getattr(component, field.name) for field in fields(component)}
    told = {name: dict(value) if isinstance(value, Mapping) else value for name, value in told.items()}
    return {name: value for name, value in told.items() if value or name == "sound_values" and value is not None}


def circuit_from_dict(data: Mapping[str, Any], *, code: str, title: str) -> Circuit:
    """Return the circuit of circuit_to_dict."""
    return Circuit(
        code=code,
        title=title,
        components=tuple(Component(**component) for component in data["components"]),
        connections=tuple(Connection(Port(*ends[:2]), Port(*ends[2:4]), ends[4]) for ends in data["connections"]),
        fittings=frozenset(data["fittings"]),
        ambient_pa_abs=data["ambient_pa_abs"],
    )
