"""The gas circuit of a machine on a day: from its own records, else the circuit of its model when new."""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache
from types import MappingProxyType

from django.utils.text import slugify

from fleet.catalogue import COMPONENT_KINDS, ambient_pressure_pa_abs
from fleet.catalogue.plausibility import rated_problem
from fleet.circuit.file_component import dimensions_of
from fleet.circuit.files import CircuitFileError, Problem, read_circuit
from fleet.circuit.network import check_circuit
from fleet.circuit.structure import Circuit, Connection as CircuitConnection, Component as CircuitComponent, Port
from fleet.circuit.units import UNITS_BY_DIMENSION, from_si, to_si
from fleet.extensions import MeasuredValues
from fleet.models import Component, FeatureState, Connection, State
from fleet.place_format import current, quantity_text

AS_BUILT = "as its model was built"
AS_RECORDED = "as recorded"
NO_CIRCUIT_YET = "the recorded components are not yet a complete circuit"
UNKNOWN = "no circuit is recorded for the machine or its model"
MEASURED_UNITS = {"flow": "mL/min"}  # for values that no plate shows; leaks are small
_NONE: Mapping = MappingProxyType({})


@dataclass(frozen=True, slots=True)
class MachineCircuit:
    """A machine's circuit, or None if unknown, and its basis.

    is_own      whether it is built from the machine's own records
    problems    reasons why the circuit cannot be computed
    measured    (component code, value key) -> words, for values measured on this machine, not read from a plate
    components  component code -> its record; empty if the circuit is that of the model
    loose       records of unconnected components, which are not in the circuit
    """

    circuit: Circuit | None
    is_own: bool
    basis: str
    problems: tuple[Problem, ...] = ()
    measured: Mapping[tuple[str, str], str] = field(default_factory=lambda: _NONE)
    components: Mapping[str, Component] = field(default_factory=lambda: _NONE)
    loose: tuple[Component, ...] = ()

    @property
    def can_be_solved(self):
        return self.circuit is not None and not self.problems

    @property
    def measured_lines(self):
        """Values measured on this machine: (component, quantity, number with its unit, origin), by component."""
        components = {component.code: component for component in self.circuit.components} if self.circuit else {}
        found = sorted(self.measured.items())
        return [(components[code].label, *_value_in_words(components[code], key), words) for (code, key), words in found]


@dataclass(frozen=True, slots=True)
class _Records:
    """The register's records of one machine's circuit on a day."""

    components: tuple[Component, ...]
    connections: tuple[Connection, ...]
    has_own: bool  # it had connections on some day, this or another
    fittings: frozenset[str]


def circuit_of(machine, day, measured: MeasuredValues = _NONE):
    """Return the circuit of a machine on the date `day`; three queries.

    machine   with its model and site, as `with_place` fetches them
    measured  what counts in place of the values that plates say
    """
    return circuits_of([machine], day, {machine.pk: measured})[machine.pk]


def circuits_of(machines, day, measured: Mapping[int, MeasuredValues] = _NONE):
    """Return the circuits of many machines by key, in as many queries as of one; `measured` is by machine key."""
    records = _records_of(machines, day)
    return {machine.pk: _circuit(machine, records[machine.pk], measured.get(machine.pk, _NONE)) for machine in machines}


def circuit_in_place(machine, day):
    """Return every component that is in place on the machine on a date, joined or not, as its plates say. Three
    queries.
    """
    found = circuit_of(machine, day)
    circuit = found.circuit or Circuit("circuit", str(machine), (), ())
    labels = {component.label for component in circuit.components}
    loose = tuple(_component(component, []) for component in found.loose if component.label not in labels)
    return replace(circuit, components=circuit.components + loose)


def circuit_of_model(model):
    """Return the circuit that machines of a model had when new, with the safety features of the model. One query."""
    circuit, problems = read_and_check(model.circuit, str(model)) if model.circuit else (None, ())
    if circuit is not None:
        fitted = frozenset(row.feature for row in model.features.all() if row.state == State.FITTED)
        circuit = replace(circuit, code=model.code, fittings=fitted)
    return MachineCircuit(circuit, False, AS_BUILT if circuit else UNKNOWN, problems)


@lru_cache(maxsize=256)
def read_and_check(text, title):
    """Return the circuit of a circuit file, None if it cannot be read, and all its problems."""
    try:
        circuit = read_circuit(text, title=title)
    except CircuitFileError as error:
        return None, tuple(error.problems)
    return circuit, tuple(check_circuit(circuit))


def circuit_of_records(components, connections, *, code="circuit", title="Circuit", fittings=frozenset(), ambient_pa_abs=None):
    """Return the circuit of these records, the records by component code, the unconnected ones, and the problems."""
    by_pk = {component.pk: component for component in components}
    connections = [connection for connection in connections if connection.source_id in by_pk and connection.target_id in by_pk]
    joined = {pk for connection in connections for pk in (connection.source_id, connection.target_id)}
    inside = [component for component in components if component.pk in joined or not component.catalogue_entry.ports]
    problems = []
    circuit = Circuit(
        code=code,
        title=title,
        components=tuple(_component(component, problems) for component in inside),
        connections=tuple(connection_of(connection, by_pk) for connection in connections),
        fittings=frozenset(fittings),
        ambient_pa_abs=ambient_pa_abs or ambient_pressure_pa_abs(0),
    )
    loose = tuple(component for component in components if component not in inside)
    return circuit, {component.circuit_code: component for component in inside}, loose, tuple(problems)


def connection_of(connection, components):
    """Return a recorded connection as a connection of a circuit; `components` are the records of its ends by key."""
    source, target = components[connection.source_id].circuit_code, components[connection.target_id].circuit_code
    return CircuitConnection(Port(source, connection.source_port), Port(target, connection.target_port), connection.size)


def _records_of(machines, day):
    pks = [machine.pk for machine in machines]
    components, connections, fittings = defaultdict(list), defaultdict(list), defaultdict(set)
    for component in Component.objects.on(day).filter(machine__in=pks).order_by("pk"):
        components[component.machine_id].append(component)
    joined = set()
    for connection in Connection.objects.filter(machine__in=pks).order_by("pk"):
        joined.add(connection.machine_id)
        if connection.fitted_on <= day and (connection.removed_on is None or connection.removed_on > day):
            connections[connection.machine_id].append(connection)
    fitted = FeatureState.objects.on(day).filter(machine__in=pks, state=State.FITTED)
    for machine, feature in fitted.order_by().values_list("machine", "feature"):
        fittings[machine].add(feature)
    return {pk: _Records(tuple(components[pk]), tuple(connections[pk]), pk in joined, frozenset(fittings[pk])) for pk in pks}


def _circuit(machine, records, measured):
    if records.has_own:
        return _own(machine, records, measured)
    if machine.model.circuit:
        return _inherited(machine, records, measured)
    if not records.components:
        return MachineCircuit(None, False, UNKNOWN)
    problem = Problem(
        str(machine),
        f"{len(records.components)} recorded components are not connected, and {machine.model} has no recorded "
        "circuit. Record the circuit of the model, or connect the components.",
    )
    return MachineCircuit(None, True, NO_CIRCUIT_YET, (problem,), loose=records.components)


def _own(machine, records, measured):
    circuit, components, loose, problems = circuit_of_records(
        records.components,
        records.connections,
        code=slugify(f"machine-{machine.asset_number}"),
        title=f"{machine} ({machine.model})",
        fittings=records.fittings,
        ambient_pa_abs=machine.site.ambient_pa_abs,
    )
    circuit, words = _with_measured(circuit, measured, records.components)
    problems = problems or tuple(check_circuit(circuit))
    basis = NO_CIRCUIT_YET if problems else AS_RECORDED
    return MachineCircuit(circuit, True, basis, problems, words, components, loose)


def _inherited(machine, records, measured):
    circuit, problems = read_and_check(machine.model.circuit, str(machine.model))
    if circuit is None:
        return MachineCircuit(None, False, AS_BUILT, problems, loose=records.components)
    circuit = replace(
        circuit, code=machine.model.code, fittings=records.fittings, ambient_pa_abs=machine.site.ambient_pa_abs
    )
    circuit, words = _with_measured(circuit, measured, records.components)
    return MachineCircuit(circuit, False, AS_BUILT, problems, words, loose=records.components)


def _component(record, problems):
    kind, values = COMPONENT_KINDS[record.kind], {}
    known = dimensions_of(kind)
    for key, (number, unit) in {**record.rated, **record.further}.items():
        try:
            if key not in known:
                continue
            if problem := rated_problem(number, known[key], unit):
                problems.append(Problem(record.label, f"{key}: {problem.of(f'{number:g} {unit}')}"))
            else:
                values[key] = to_si(number, unit)
        except (ValueError, TypeError) as error:
            problems.append(Problem(record.label, f"{key}: {error}"))
    return CircuitComponent(
        record.circuit_code,
        record.kind,
        record.label,
        record.gas,
        MappingProxyType(values),
        MappingProxyType(dict(record.options)),
    )


def _with_measured(circuit, measured, records):
    """Return the circuit with measured values instead of rated ones, and the origin of each in words."""
    codes = {record.pk: record.circuit_code for record in records}
    by_component, words = defaultdict(dict), {}
    components = {component.code: component for component in circuit.components}
    for (which, key), (value, told) in measured.items():
        code = codes.get(which, which)
        if code in components and key in dimensions_of(COMPONENT_KINDS[components[code].kind]):
            by_component[code][key] = value
            words[code, key] = told
    if not words:
        return circuit, _NONE
    changed = tuple(
        replace(component, values=MappingProxyType({**component.values, **by_component[component.code]})) if component.code in by_component else component
        for component in circuit.components
    )
    return replace(circuit, components=changed), MappingProxyType(words)


def _value_in_words(component, key):
    kind = COMPONENT_KINDS[component.kind]
    dimension = dimensions_of(kind)[key]
    rated = next((value for value in kind.rated if value.key == key), None)
    unit = rated.unit if rated else MEASURED_UNITS.get(dimension, UNITS_BY_DIMENSION[dimension][0])
    label = rated.label if rated else key.replace("_", " ").capitalize()
    value = float(f"{from_si(component.values[key], unit):.3g}")
    return label, quantity_text(value, unit, current())
