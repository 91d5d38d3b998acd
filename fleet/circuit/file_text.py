"""Writes a circuit as TOML text that reads back as the same circuit."""

import json

from fleet.catalogue import COMPONENT_KINDS
from fleet.circuit.file_component import dimensions_of
from fleet.circuit.structure import STANDARD_PA_ABS, Circuit, Connection, Component
from fleet.circuit.units import SI_UNITS, UNITS_BY_DIMENSION, short_in


def write_circuit(circuit: Circuit) -> str:
    """Return the circuit as TOML; read_circuit returns the same circuit, every value equal to the last bit."""
    lines = [f"title = {_quoted(circuit.title)}", f"code = {_quoted(circuit.code)}"]
    lines.append(f"fittings = [{', '.join(map(_quoted, sorted(circuit.fittings)))}]")
    if circuit.ambient_pa_abs != STANDARD_PA_ABS:
        lines.append(f"ambient_pressure = {_quantity(circuit.ambient_pa_abs, 'kPa', 'Pa')}  # absolute")
    lines += ["", "part = [", *(f"  {_component(component)}," for component in circuit.components), "]"]
    lines += ["", "joint = [", *(f"  {_connection(connection)}," for connection in circuit.connections), "]"]
    return "\n".join(lines) + "\n"


def _component(component: Component) -> str:
    pairs = [(key, _quoted(getattr(component, key))) for key in ("code", "kind", "label")]
    if component.gas:
        pairs.append(("gas", _quoted(component.gas)))
    if component.values:
        pairs.append(("values", _inline([(key, _value(component, key)) for key in component.values])))
    if component.options:
        pairs.append(("options", _inline([(key, _quoted(word)) for key, word in component.options.items()])))
    return _inline(pairs)


def _connection(connection: Connection) -> str:
    size = [("size", _quoted(connection.size))] if connection.size else []
    return _inline([("from", _quoted(str(connection.source))), ("to", _quoted(str(connection.target))), *size])


def _inline(pairs: list[tuple[str, str]]) -> str:
    return "{ " + ", ".join(f"{key} = {value}" for key, value in pairs) + " }"


def _value(component: Component, key: str) -> str:
    kind = COMPONENT_KINDS[component.kind]
    dimension = dimensions_of(kind)[key]
    shown = {value.key: value.unit for value in kind.rated}
    si_unit = SI_UNITS.get(dimension, "1")
    unit = shown.get(key, UNITS_BY_DIMENSION.get(dimension, (si_unit,))[0])
    return _quantity(component.values[key], unit, si_unit)


def _quantity(value_si: float, unit: str, si_unit: str) -> str:
    number, unit = short_in(value_si, unit, si_unit)
    return f"[{number!r}, {_quoted(unit)}]"


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
