"""The steps of every change of a gas circuit: lock, check against the version seen, date, record."""

from collections import defaultdict

from django.db.models import Count, F, Max, Q

from fleet.actions.circuit_copy import copy_circuits
from fleet.catalogue import COMPONENT_KINDS
from fleet.catalogue.plausibility import rated_problem
from fleet.changes import record_created, recording
from fleet.circuit.file_component import dimensions_of
from fleet.circuit.structure import Port
from fleet.errors import CircuitOvertaken, ComponentRefused
from fleet.models import CircuitChange, Component, Connection, Machine
from fleet.models.components import free_code


def circuit_version(machine):
    """Return a text that changes with every change of the circuit; forms carry it and actions compare it. One query."""
    counts = CircuitChange.objects.filter(machine=machine).aggregate(last=Max("pk"), undone=Count("undone_at"))
    return f"{counts['last'] or 0}-{counts['undone']}"


def hold_circuit(machine, *, seen=None):
    """Lock the machine until the transaction ends. Raise CircuitOvertaken if its circuit is not the version seen."""
    machine = (
        Machine.objects.select_for_update(no_key=True, of=("self",))
        .select_related("model", "area__site")
        .get(pk=machine.pk)
    )
    if seen is not None and seen != circuit_version(machine):
        last = CircuitChange.objects.filter(machine=machine).exclude(verb=CircuitChange.Verb.COPIED)
        last = last.select_related("by").order_by(F("undone_at").desc(nulls_last=True), "-pk").first()
        latest = f" Last change: {last} ({last.by or 'not by a person'})." if last else ""
        raise CircuitOvertaken(
            f"The gas circuit of machine {machine} was changed after this page was opened.{latest} "
            "Nothing was saved. Check the present circuit and enter the change again."
        )
    return machine


class Edit:
    """One change of one machine's circuit; use it within a transaction and call `begin` first."""

    def __init__(self, machine, *, on, by, at, evidence="", seen=None):
        self.machine = hold_circuit(machine, seen=seen)
        self.on, self.by, self.at, self.evidence = on, by, at, evidence
        today = self.machine.site.date_of(at)
        if not self.machine.in_use_from <= on <= today:
            raise ComponentRefused(
                f"{on} is outside the period that the register covers for machine {self.machine}. "
                f"Enter a date from {self.machine.in_use_from} to {today}."
            )
        copy_circuits([self.machine], by=by, at=at)
        self.components = {component.circuit_code: component for component in Component.objects.filter(machine=machine, removed_on=None)}
        self.connections = list(Connection.objects.filter(machine=machine, removed_on=None).select_related("source", "target"))

    def begin(self, verb, words):
        self.change = CircuitChange.objects.create(
            machine=self.machine,
            verb=verb,
            changed_on=self.on,
            words=words[:400],
            evidence=self.evidence,
            by=self.by,
            recorded_at=self.at,
        )
        record_created([self.change], by=self.by, at=self.at)
        return self.change

    def component(self, code):
        """Return the record of a fitted component. Raise ComponentRefused, which lists the codes."""
        if code not in self.components:
            known = ", ".join(sorted(self.components)) or "none"
            raise ComponentRefused(f"Machine {self.machine} has no component “{code}”. Fitted components: {known}.")
        return self.components[code]

    def port(self, port):
        """Return a port of a fitted component in words. Raise ComponentRefused for a port that it lacks."""
        component = self.component(port.component)
        ports = COMPONENT_KINDS[component.kind].ports
        if port.name not in ports:
            raise ComponentRefused(f"{component} has no port “{port.name}”. Accepted: {', '.join(ports) or 'none'}.")
        return f"{component} ({port.name})"

    def connection(self, source, target):
        """Return the record of the connection of two ports, in either direction. Raise ComponentRefused."""
        for connection in self.connections:
            if {source, target} == set(ports_of(connection)):
                return connection
        raise ComponentRefused(f"{self.port(source)} and {self.port(target)} are not connected.")

    def connections_of(self, component):
        return [connection for connection in self.connections if component.pk in (connection.source_id, connection.target_id)]

    def fit(self, *, kind, label, gas="", code="", **details):
        """Fit a component from the day on. Raise ComponentRefused."""
        self._refuse_doubled(label)
        _refuse_implausible(kind, label, {**details.get("rated", {}), **details.get("further", {})})
        component = Component(
            machine=self.machine, kind=kind, label=label, gas=gas, fitted_on=self.on, fitted_in=self.change, **details
        )
        component.code = code if code and code not in self.components else free_code(label, self.components)
        component.save(force_insert=True)
        record_created([component], by=self.by, at=self.at)
        self.components[component.code] = component
        return component

    def _refuse_doubled(self, label):
        still = Q(removed_on=None) | Q(removed_on__gt=self.on)
        there = Component.objects.filter(still, machine=self.machine, label=label).first()
        if there:
            until = f"until {there.removed_on}" if there.removed_on else "and is still fitted"
            raise ComponentRefused(
                f"Machine {self.machine} has a component called “{label}” from {there.fitted_on} {until}. "
                "Remove or replace that one, use another name, or enter a later date."
            )

    def end(self, component):
        """Remove a component and its connections on the day."""
        self._refuse_before(component.fitted_on, component)
        for connection in self.connections_of(component):
            self.end_connection(connection)
        with recording(component, by=self.by, at=self.at):
            component.removed_on, component.removed_in = self.on, self.change
            component.save(update_fields=["removed_on", "removed_in"])
        del self.components[component.circuit_code]

    def end_connection(self, connection):
        self._refuse_before(connection.fitted_on, f"The connection of {connection.source} and {connection.target}")
        connection.removed_on, connection.removed_in = self.on, self.change
        connection.save(update_fields=["removed_on", "removed_in"])
        self.connections.remove(connection)

    def _refuse_before(self, day, what):
        if self.on < day:
            raise ComponentRefused(f"{what} was fitted on {day}, after {self.on}. Enter {day} or a later date.")

    def join(self, source, target, size=""):
        """Connect two ports of fitted components from the day on."""
        ends = f"{self.port(source)} and {self.port(target)}"
        one, other = self.component(source.component), self.component(target.component)
        if one.pk == other.pk:
            raise ComponentRefused(f"{ends} belong to the same component. Connect two components.")
        for component in (one, other):
            self._refuse_before(component.fitted_on, component)
        if any({source, target} == set(ports_of(connection)) for connection in self.connections):
            raise ComponentRefused(f"{ends} are already connected.")
        connection = Connection.objects.create(
            machine=self.machine,
            source=one,
            source_port=source.name,
            target=other,
            target_port=target.name,
            size=size,
            fitted_on=self.on,
            fitted_in=self.change,
        )
        self.connections.append(connection)
        return connection

    def neighbours(self, component):
        """Return the neighbours of a component by its port: (other port, whether it is upstream, size)."""
        found = defaultdict(list)
        for connection in self.connections_of(component):
            source, target = ports_of(connection)
            if connection.source_id == component.pk:
                found[source.name].append((target, False, connection.size))
            else:
                found[target.name].append((source, True, connection.size))
        return found


def _refuse_implausible(kind, label, values):
    dimensions = dimensions_of(COMPONENT_KINDS[kind]) if kind in COMPONENT_KINDS else {}
    for key, (value, unit) in values.items():
        if key in dimensions and (problem := rated_problem(value, dimensions[key], unit)):
            raise ComponentRefused(f"{label}, {key.replace('_', ' ')}: {problem.of(f'{value:g} {unit}')}")


def ports_of(connection):
    return Port(connection.source.circuit_code, connection.source_port), Port(connection.target.circuit_code, connection.target_port)
