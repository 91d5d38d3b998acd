"""Make the recorded circuit of a machine another one, as one change that can be undone."""

from django.db import transaction

from fleet.actions.circuit_copy import record_fields
from fleet.actions.circuit_edit import Edit, ports_of
from fleet.models import CircuitChange


@transaction.atomic
def alter_circuit(machine, before, after, *, words, on, by, at, evidence="", seen=None):
    """Record that a machine's circuit, which was `before` by its records, is `after` from a day on. Return the change.

    Both are of fleet.circuit, with the codes of the records. Raise ComponentRefused for what the records do not allow,
    CircuitOvertaken if the circuit is not the version `seen`.
    """
    edit = Edit(machine, on=on, by=by, at=at, evidence=evidence, seen=seen)
    change = edit.begin(CircuitChange.Verb.ALTERED, words)
    held = {component.code: component for component in before.components}
    left = {component.code: component for component in after.components}
    for connection in before.connections:
        if connection not in after.connections:
            edit.end_connection(edit.connection(connection.source, connection.target))
    gone = {code: edit.component(code) for code, each in held.items() if left.get(code) != each}
    for record in gone.values():
        edit.end(record)
    for code, component in left.items():
        if held.get(code) != component:
            edit.fit(**_fields(component, gone.get(code)))
    _join(edit, after.connections)
    return change


def _fields(component, old):
    """Return the fields of the record to fit; one that only changes keeps its plate and its number."""
    fields = record_fields(component)
    if old is None:
        return fields
    same = ("part_number", "serial", "lot", "rated", "further", "note")
    return fields | {name: getattr(old, name) for name in same}


def _join(edit, connections):
    there = {frozenset(ports_of(connection)) for connection in edit.connections}
    for connection in connections:
        if frozenset((connection.source, connection.target)) not in there:
            edit.join(connection.source, connection.target, connection.size)
