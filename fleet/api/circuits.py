"""The API's answer for a gas circuit: values in SI, pressures in Pa gauge, flows in m3/s at 20 C and 101.325 kPa."""

from ninja import Field, Schema

from fleet.circuit.digest import circuit_digest


class ComponentValueOut(Schema):
    key: str
    value: float = Field(description="SI: Pa gauge, m3/s at 20 C and 101.325 kPa, a fraction of 1, s, K or m3.")
    measured: str = Field(description="The source of a measured value; empty for a rated value.")


class CircuitComponentOut(Schema):
    code: str = Field(description="Identifies the component in this circuit.")
    kind: str = Field(description="Code of the kind of component.")
    label: str
    gas: str = Field(description="The gas that it normally carries; empty for mixed gas.")
    values: list[ComponentValueOut]
    options: dict[str, str]


class ConnectionOut(Schema):
    source: str = Field(description="Component code, dot, port; the side that gas normally comes from.")
    target: str
    size: str = Field(description="Connector at the end of a hose; empty inside the machine.")


class CircuitOut(Schema):
    basis: str = Field(description="The records on which the circuit is based, in words.")
    is_own: bool = Field(description="Whether it is based on the machine's own records instead of its model's circuit.")
    digest: str = Field(description="Identical for identical circuits; empty where no circuit is recorded.")
    ambient_pa_abs: float | None
    fittings: list[str] = Field(description="Codes of the safety features that are fitted on that date.")
    problems: list[str]
    parts: list[CircuitComponentOut]
    joints: list[ConnectionOut]

    @staticmethod
    def of(found):
        """Return the answer for a MachineCircuit."""
        circuit = found.circuit
        return {
            "basis": found.basis,
            "is_own": found.is_own,
            "digest": circuit_digest(circuit) if circuit else "",
            "ambient_pa_abs": circuit.ambient_pa_abs if circuit else None,
            "fittings": sorted(circuit.fittings) if circuit else [],
            "problems": [str(problem) for problem in found.problems],
            "parts": [_component(component, found.measured) for component in circuit.components] if circuit else [],
            "joints": [_connection(connection) for connection in circuit.connections] if circuit else [],
        }


def _component(component, measured):
    values = [
        {"key": key, "value": value, "measured": measured.get((component.code, key), "")}
        for key, value in component.values.items()
    ]
    plain = {name: getattr(component, name) for name in ("code", "kind", "label", "gas")}
    return {**plain, "values": values, "options": dict(component.options)}


def _connection(connection):
    return {"source": str(connection.source), "target": str(connection.target), "size": connection.size}
