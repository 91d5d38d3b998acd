"""The steps of every change of a gas circuit: lock, compare with the version that was seen, check the date, record."""

from collections import defaultdict

from django.db.models import Count, F, Max, Q

from fleet.actions.circuit_copy import copy_circuits
from fleet.catalogue import COMPONENT_KINDS
from fleet.catalogue.plausibility import rated_problem
from fleet.changes import record_created, recording
from fleet.circuit.file_part import dimensions_of
from fleet.circuit.parts import Port
from fleet.errors import CircuitOvertaken, ComponentRefused
from fleet.models import CircuitChange, Component, Link, Machine
from fleet.models.components import free_code


def circuit_version(machine):
    """Return the version of a circuit, which a form carries and an action compares. One query."""
    told = CircuitChange.objects.filter(machine=machine).aggregate(last=Max("pk"), undone=Count("undone_at"))
    return f"{told['last'] or 0}-{told['undone']}"


def hold_circuit(machine, *, seen=None):
    """Lock the machine until the transaction ends. Raise CircuitOvertaken if its circuit has changed since."""
    machine = Machine.objects.select_for_update(of=("self",)).select_related("model", "area__site").get(pk=machine.pk)
    if seen is not None and seen != circuit_version(machine):
        last = CircuitChange.objects.filter(machine=machine).exclude(verb=CircuitChange.Verb.COPIED)
        last = last.select_related("by").order_by(F("undone_at").desc(nulls_last=True), "-pk").first()
        told = f" The last change: {last} ({last.by or 'not by a person'})." if last else ""
        raise CircuitOvertaken(
            f"The gas circuit of machine {machine} was changed since this page was opened.{told} "
            "Nothing was kept. Look at the circuit as it is now and enter the change again."
        )
    return machine


class Edit:
    """One change of one machine's circuit; use it within a transaction, and call `begin` first."""

    def __init__(self, machine, *, on, by, at, evidence="", seen=None):
        self.machine = hold_circuit(machine, seen=seen)
        self.on, self.by, self.at, self.evidence = on, by, at, evidence
        today = self.machine.site.date_of(at)
        if not self.machine.in_use_from <= on <= today:
            raise ComponentRefused(
                f"{on} is outside the time that the register answers for machine {self.machine}. "
                f"Give a date from {self.machine.in_use_from} to {today}."
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
        """Return the record of a component in place. Raise ComponentRefused, which lists the codes."""
        if code not in self.parts:
            known = ", ".join(sorted(self.parts)) or "none"
            raise ComponentRefused(f"Machine {self.machine} has no part “{code}” in place. Parts in place: {known}.")
        return self.parts[code]

    def port(self, port):
        """Return the text of a port of a component in place. Raise ComponentRefused for a port that it lacks."""
        part = self.part(port.part)
        ports = COMPONENT_KINDS[part.kind].ports
        if port.name not in ports:
            raise ComponentRefused(f"{part} has no connection “{port.name}”. Accepted: {', '.join(ports) or 'none'}.")
        return f"{part} ({port.name})"

    def joint(self, source, target):
        """Return the record of a connection between two ports, in either direction. Raise ComponentRefused."""
        for link in self.links:
            if {source, target} == set(ports_of(link)):
                return link
        raise ComponentRefused(f"{self.port(source)} and {self.port(target)} are not joined.")

    def links_of(self, part):
        return [link for link in self.links if part.pk in (link.source_id, link.target_id)]

    def fit(self, *, kind, label, gas="", code="", **details):
        """Record a component as fitted from the day on. Raise ComponentRefused."""
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
            until = f"until {there.removed_on}" if there.removed_on else "and is still there"
            raise ComponentRefused(
                f"Machine {self.machine} has a part called “{label}” from {there.fitted_on} {until}. "
                "Remove or replace that one, use another name, or give a later date."
            )

    def end(self, part):
        """Record a component and its connections as removed on the day."""
        self._refuse_before(part.fitted_on, part)
        for link in self.links_of(part):
            self.end_link(link)
        with recording(part, by=self.by, at=self.at):
            part.removed_on, part.removed_in = self.on, self.change
            part.save(update_fields=["removed_on", "removed_in"])
        del self.parts[part.circuit_code]

    def end_link(self, link):
        self._refuse_before(link.fitted_on, f"The joint between {link.source} and {link.target}")
        link.removed_on, link.removed_in = self.on, self.change
        link.save(update_fields=["removed_on", "removed_in"])
        self.links.remove(link)

    def _refuse_before(self, day, what):
        if self.on < day:
            raise ComponentRefused(f"{what} is there from {day} on; it cannot have been changed on {self.on}.")

    def join(self, source, target, size=""):
        """Record two ports of components in place as connected from the day on."""
        told = self.port(source), self.port(target)
        one, other = self.part(source.part), self.part(target.part)
        if one.pk == other.pk:
            raise ComponentRefused(f"{told[0]} and {told[1]} belong to one part. Join two parts.")
        for part in (one, other):
            self._refuse_before(part.fitted_on, part)
        if any({source, target} == set(ports_of(link)) for link in self.links):
            raise ComponentRefused(f"{told[0]} and {told[1]} are joined already.")
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
        """Return, by port of the component, its connections: (other port, whether gas comes from there, size)."""
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
