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
from fleet.models import CircuitChange, Component, Link, Machine
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
        self.parts = {part.circuit_code: part for part in Component.objects.filter(machine=machine, removed_on=None)}
        self.links = list(Link.objects.filter(machine=machine, removed_on=None).select_related("source", "target"))

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

    def part(self, code):
        """Return the record of a fitted component. Raise ComponentRefused, which lists the codes."""
        if code not in self.parts:
            known = ", ".join(sorted(self.parts)) or "none"
            raise ComponentRefused(f"Machine {self.machine} has no component “{code}”. Fitted components: {known}.")
        return self.parts[code]

    def port(self, port):
        """Return a port of a fitted component in words. Raise ComponentRefused for a port that it lacks."""
        part = self.part(port.part)
        ports = COMPONENT_KINDS[part.kind].ports
        if port.name not in ports:
            raise ComponentRefused(f"{part} has no port “{port.name}”. Accepted: {', '.join(ports) or 'none'}.")
        return f"{part} ({port.name})"

    def joint(self, source, target):
        """Return the record of the connection of two ports, in either direction. Raise ComponentRefused."""
        for link in self.links:
            if {source, target} == set(ports_of(link)):
                return link
        raise ComponentRefused(f"{self.port(source)} and {self.port(target)} are not connected.")

    def links_of(self, part):
        return [link for link in self.links if part.pk in (link.source_id, link.target_id)]

    def fit(self, *, kind, label, gas="", code="", **details):
        """Fit a component from the day on. Raise ComponentRefused."""
        self._refuse_doubled(label)
        _refuse_implausible(kind, label, {**details.get("rated", {}), **details.get("further", {})})
        part = Component(
            machine=self.machine, kind=kind, label=label, gas=gas, fitted_on=self.on, fitted_in=self.change, **details
        )
        part.code = code if code and code not in self.parts else free_code(label, self.parts)
        part.save(force_insert=True)
        record_created([part], by=self.by, at=self.at)
        self.parts[part.code] = part
        return part

    def _refuse_doubled(self, label):
        still = Q(removed_on=None) | Q(removed_on__gt=self.on)
        there = Component.objects.filter(still, machine=self.machine, label=label).first()
        if there:
            until = f"until {there.removed_on}" if there.removed_on else "and is still fitted"
            raise ComponentRefused(
                f"Machine {self.machine} has a component called “{label}” from {there.fitted_on} {until}. "
                "Remove or replace that one, use another name, or enter a later date."
            )

    def end(self, part):
        """Remove a component and its connections on the day."""
        self._refuse_before(part.fitted_on, part)
        for link in self.links_of(part):
            self.end_link(link)
        with recording(part, by=self.by, at=self.at):
            part.removed_on, part.removed_in = self.on, self.change
            part.save(update_fields=["removed_on", "removed_in"])
        del self.parts[part.circuit_code]

    def end_link(self, link):
        self._refuse_before(link.fitted_on, f"The connection of {link.source} and {link.target}")
        link.removed_on, link.removed_in = self.on, self.change
        link.save(update_fields=["removed_on", "removed_in"])
        self.links.remove(link)

    def _refuse_before(self, day, what):
        if self.on < day:
            raise ComponentRefused(f"{what} was fitted on {day}, after {self.on}. Enter {day} or a later date.")

    def join(self, source, target, size=""):
        """Connect two ports of fitted components from the day on."""
        ends = f"{self.port(source)} and {self.port(target)}"
        one, other = self.part(source.part), self.part(target.part)
        if one.pk == other.pk:
            raise ComponentRefused(f"{ends} belong to the same component. Connect two components.")
        for part in (one, other):
            self._refuse_before(part.fitted_on, part)
        if any({source, target} == set(ports_of(link)) for link in self.links):
            raise ComponentRefused(f"{ends} are already connected.")
        link = Link.objects.create(
            machine=self.machine,
            source=one,
            source_port=source.name,
            target=other,
            target_port=target.name,
            size=size,
            fitted_on=self.on,
            fitted_in=self.change,
        )
        self.links.append(link)
        return link

    def neighbours(self, part):
        """Return the neighbours of a component by its port: (other port, whether it is upstream, size)."""
        found = defaultdict(list)
        for link in self.links_of(part):
            source, target = ports_of(link)
            if link.source_id == part.pk:
                found[source.name].append((target, False, link.size))
            else:
                found[target.name].append((source, True, link.size))
        return found


def _refuse_implausible(kind, label, values):
    dimensions = dimensions_of(COMPONENT_KINDS[kind]) if kind in COMPONENT_KINDS else {}
    for key, (value, unit) in values.items():
        if key in dimensions and (problem := rated_problem(value, dimensions[key], unit)):
            raise ComponentRefused(f"{label}, {key.replace('_', ' ')}: {problem.of(f'{value:g} {unit}')}")


def ports_of(link):
    return Port(link.source.circuit_code, link.source_port), Port(link.target.circuit_code, link.target_port)
