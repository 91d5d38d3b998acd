"""Copy the circuit of a machine's model to the machine's own records, before the machine is first altered."""

from dataclasses import dataclass

from django.db import transaction

from fleet.catalogue import COMPONENT_KINDS
from fleet.catalogue.dimensions import UNITS
from fleet.changes import record_created, recording
from fleet.circuit.file_component import dimensions_of
from fleet.circuit.units import UNITS_BY_DIMENSION, from_si, short_in, to_si
from fleet.circuits.machine_circuit import AS_BUILT, read_and_check
from fleet.errors import ComponentRefused
from fleet.models import CircuitChange, Component, Connection
from fleet.models.components import free_code

BATCH = 500
PLATE_DIGITS = 5  # as on a rating plate


@transaction.atomic
def copy_circuits(machines, *, by, at, plate=None):
    """Copy the model's circuit to machines that have no connected components of their own, from their first day on.

    plate  function of machine and component that returns its plate data, such as {"serial": "1", "lot": "L-2"}
    Machines whose model has no circuit, or that have their own, are skipped. Return the machines with a new circuit.
    Raise ComponentRefused for a model's circuit that cannot be read, and for a record that contradicts it.
    """
    owners = set(Connection.objects.filter(machine__in=machines).values_list("machine", flat=True))
    copies = [_Copy(machine, plate) for machine in machines if machine.pk not in owners and machine.model.circuit]
    recorded = _recorded_components([copy.machine for copy in copies])
    for copy in copies:
        copy.lay_out(recorded.get(copy.machine.pk, {}))
    CircuitChange.objects.bulk_create([copy.begin(by, at) for copy in copies], batch_size=BATCH)
    adopted = [component for copy in copies for component in copy.adopted]
    with recording(*adopted, by=by, at=at):
        Component.objects.bulk_update(adopted, ["code", "rated", "further", "options"], batch_size=BATCH)
    made = [component for copy in copies for component in copy.made()]
    Component.objects.bulk_create(made, batch_size=BATCH)
    record_created([*(copy.change for copy in copies), *made], by=by, at=at)
    Connection.objects.bulk_create([connection for copy in copies for connection in copy.connections()], batch_size=BATCH)
    return [copy.machine for copy in copies]


@dataclass(frozen=True, slots=True)
class _Stretch:
    """A record of one component of the circuit for a period of time."""

    component: Component

    @property
    def start(self):
        return self.component.fitted_on

    @property
    def end(self):
        return self.component.removed_on


class _Copy:
    """One machine while its own records are made."""

    def __init__(self, machine, plate):
        self.machine, self.plate = machine, plate
        self.circuit, problems = read_and_check(machine.model.circuit, str(machine.model))
        if self.circuit is None:
            raise ComponentRefused(f"The circuit of {machine.model} cannot be read: {problems[0]}")
        self.adopted = []

    def lay_out(self, recorded):
        """Find for each component of the circuit its records, in order of time."""
        self.stretches = {component.code: self._stretches(component, recorded.pop(component.label, [])) for component in self.circuit.components}
        taken = set(self.stretches)
        for rows in recorded.values():  # components that are not in the model's circuit get other codes
            for row in rows:
                if row.code in taken or not row.code:
                    row.code = free_code(row.label, taken)
                    self.adopted.append(row)
                taken.add(row.code)

    def _stretches(self, component, rows):
        for row in rows:
            if row.kind != component.kind:
                raise ComponentRefused(
                    f"“{row.label}” is recorded on machine {self.machine} as {row.catalogue_entry.name.lower()}, and "
                    f"is a {COMPONENT_KINDS[component.kind].name.lower()} in the circuit of {self.machine.model}. "
                    "Correct the record or the circuit first."
                )
            fresh = record_fields(component)
            row.code, row.options = component.code, {**fresh["options"], **row.options}
            row.rated, row.further = {**fresh["rated"], **row.rated}, {**fresh["further"], **row.further}
            self.adopted.append(row)
        first_day = self.machine.in_use_from
        if rows and rows[0].fitted_on <= first_day:
            return [_Stretch(row) for row in rows]
        plate = self.plate(self.machine, component) if self.plate else {}
        first = Component(machine=self.machine, fitted_on=first_day, **record_fields(component), **plate)
        first.removed_on = rows[0].fitted_on if rows else None
        return [_Stretch(first), *(_Stretch(row) for row in rows)]

    def begin(self, by, at):
        self.change = CircuitChange(
            machine=self.machine,
            verb=CircuitChange.Verb.COPIED,
            changed_on=self.machine.in_use_from,
            words=f"{len(self.circuit.components)} components, {len(self.circuit.connections)} connections: "
            f"{self.machine.model}",
            evidence=AS_BUILT,
            by=by,
            recorded_at=at,
        )
        return self.change

    def made(self):
        components = [stretch.component for line in self.stretches.values() for stretch in line if stretch.component.pk is None]
        for component in components:
            component.fitted_in = self.change
        return components

    def connections(self):
        for connection in self.circuit.connections:
            for source in self.stretches[connection.source.component]:
                for target in self.stretches[connection.target.component]:
                    start = max(source.start, target.start)
                    end = min((day for day in (source.end, target.end) if day), default=None)
                    if end is None or start < end:
                        yield Connection(
                            machine=self.machine,
                            source=source.component,
                            source_port=connection.source.name,
                            target=target.component,
                            target_port=connection.target.name,
                            size=connection.size,
                            fitted_on=start,
                            removed_on=end,
                            fitted_in=self.change,
                        )


def _recorded_components(machines):
    """Return the recorded components of each machine by label, each label's in the order of fitting."""
    recorded = {}
    components = Component.objects.filter(machine__in=machines).order_by("fitted_on", "pk")
    for component in components:
        recorded.setdefault(component.machine_id, {}).setdefault(component.label, []).append(component)
    return recorded


def record_fields(component):
    """Return the fields of a record for a circuit component, values with the unit that is shown first."""
    kind = COMPONENT_KINDS[component.kind]
    shown, dimensions = {value.key: value.unit for value in kind.rated}, dimensions_of(kind)
    rated, further = {}, {}
    for key, value in component.values.items():
        if key in shown:
            rated[key] = _as_on_a_plate(value, (shown[key], *UNITS[dimensions[key]]))
        else:
            further[key] = _as_on_a_plate(value, UNITS_BY_DIMENSION.get(dimensions[key], ("1",)))
    return {
        "code": component.code,
        "kind": component.kind,
        "label": component.label,
        "gas": component.gas,
        "rated": rated,
        "further": further,
        "options": dict(component.options),
    }


def _as_on_a_plate(value, units):
    """Return the number and unit that convert back to the same SI value: the first unit in which it is short."""
    exact = [pair for unit in units if to_si(*(pair := short_in(value, unit, unit))) == value]
    short = [pair for pair in exact if float(f"{pair[0]:.{PLATE_DIGITS}g}") == pair[0]]
    return list(next(iter(short or exact), (from_si(value, units[0]), units[0])))
