"""Change the gas circuit of a machine, each change with date and evidence, and undo wrong entries.

The first change of a machine copies the circuit of its model to the machine's own records. `seen` is the version of
the circuit that the person saw (`circuit_version`); if it has changed since, CircuitOvertaken is raised.
"""

from django.db import transaction
from django.db.models import F

from fleet.actions.circuit_edit import Edit, hold_circuit, ports_of
from fleet.changes import recording
from fleet.circuit.structure import Port
from fleet.errors import ComponentRefused
from fleet.models import CircuitChange, Component

Verb = CircuitChange.Verb


@transaction.atomic
def insert_component(
    machine, *, kind, label, fitted_on, by, at, joins=None, between=(), evidence="", seen=None, **details
):
    """Fit a component and connect it. Raise ComponentRefused for what the circuit does not allow.

    joins    own port -> Port of a fitted component, for ports that are connected individually
    between  (source Port, target Port, own port in, own port out) for each connection that the component is inserted in
    details  gas, part_number, serial, lot, rated, further, options, note
    """
    edit = Edit(machine, on=fitted_on, by=by, at=at, evidence=evidence, seen=seen)
    places = [f"between {edit.port(source)} and {edit.port(target)}" for source, target, _, _ in between]
    places += [f"at {edit.port(port)}" for port in (joins or {}).values()]
    words = " ".join([f"{label} {'inserted' if between else 'fitted'}", ", ".join(places)]).strip()
    edit.begin(Verb.INSERTED if between else Verb.FITTED, words)
    component = edit.fit(kind=kind, label=label, gas=gas_of(details), **details)
    for source, target, port_in, port_out in between:
        old = edit.connection(source, target)
        source, target = ports_of(old)
        edit.end_connection(old)
        edit.join(source, Port(component.code, port_in), old.size)
        edit.join(Port(component.code, port_out), target, old.size)
    for name, port in (joins or {}).items():
        own = Port(component.code, name)
        edit.join(*((port, own) if name not in component.catalogue_entry.ports[1:] else (own, port)))
    return component


def gas_of(details):
    return details.pop("gas", "")


@transaction.atomic
def replace_component(machine, code, *, on, by, at, evidence="", seen=None, **details):
    """Replace a component, with the same connections. Return the new one. Raise ComponentRefused.

    details  differences from the old component; serial, lot and note belong to the new one. A new `kind` must have the
             ports that are in use.
    """
    edit = Edit(machine, on=on, by=by, at=at, evidence=evidence, seen=seen)
    old = edit.component(code)
    same = {name: getattr(old, name) for name in ("kind", "label", "gas", "part_number", "rated", "further", "options")}
    fields = {**same, **details}
    serial = f" (serial {fields['serial']})" if fields.get("serial") else ""
    edit.begin(Verb.REPLACED, f"{old} replaced by {fields['label']}{serial}")
    around = edit.neighbours(old)
    edit.end(old)
    new = edit.fit(code=old.code, **fields)
    for name, ends in around.items():
        for port, is_upstream, size in ends:
            own = Port(new.code, name)
            edit.join(*((port, own) if is_upstream else (own, port)), size)
    return new


@transaction.atomic
def take_out_component(machine, code, *, removed_on, by, at, bridge, evidence="", seen=None):
    """Remove a component. With `bridge` its neighbours are connected directly, else those ends stay open."""
    edit = Edit(machine, on=removed_on, by=by, at=at, evidence=evidence, seen=seen)
    component = edit.component(code)
    edit.begin(Verb.REMOVED, f"{component} removed, {'its neighbours connected directly' if bridge else 'ends left open'}")
    around = edit.neighbours(component)
    edit.end(component)
    groups = _grouped(around, bridge)
    if bridge and not any(len(ends) > 1 for ends in groups):
        raise ComponentRefused(
            f"{component} has no two neighbours that could be connected directly. Choose to leave its ends open."
        )
    for ends in groups:
        _join_all(edit, ends)
    return component


@transaction.atomic
def join_ports(machine, source, target, *, on, by, at, size="", evidence="", seen=None):
    """Connect two ports of fitted components. Raise ComponentRefused."""
    edit = Edit(machine, on=on, by=by, at=at, evidence=evidence, seen=seen)
    edit.begin(Verb.JOINED, f"{edit.port(source)} connected to {edit.port(target)}")
    return edit.join(source, target, size)


@transaction.atomic
def disconnect_ports(machine, source, target, *, on, by, at, evidence="", seen=None):
    """Disconnect two ports. Raise ComponentRefused if they are not connected."""
    edit = Edit(machine, on=on, by=by, at=at, evidence=evidence, seen=seen)
    connection = edit.connection(source, target)
    edit.begin(Verb.PARTED, f"{edit.port(source)} disconnected from {edit.port(target)}")
    edit.end_connection(connection)
    return connection


@transaction.atomic
def undo_circuit_change(change, *, reason, by, at, seen=None):
    """Undo a change that should not have been entered: the circuit of every day is then as without it.

    The change stays readable, with who undid it and why. Raise ComponentRefused if it is already undone, if a later
    change depends on it, and for the copy of a model's circuit.
    """
    hold_circuit(change.machine, seen=seen)
    change = CircuitChange.objects.select_related("machine").get(pk=change.pk)
    _refuse_undoing(change)
    fitted, removed = list(change.components_fitted.all()), list(change.components_removed.all())
    with recording(change, *fitted, *removed, by=by, at=at):
        for rows in (change.components_fitted, change.connections_made):
            rows.update(removed_on=F("fitted_on"))
        removed_connections = list(change.connections_ended.select_related("source", "target"))
        for rows in (change.components_removed, change.connections_ended):
            rows.update(removed_on=None, removed_in=None)
        _refuse_open_ends(removed_connections)
        change.undone_at, change.undone_by, change.undone_reason = at, by, reason
        change.save(update_fields=["undone_at", "undone_by", "undone_reason"])
    return change


def _refuse_undoing(change):
    if change.undone_at:
        raise ComponentRefused(f"“{change}” was already undone by {change.undone_by or 'an unnamed person'}.")
    if change.verb == Verb.COPIED:
        raise ComponentRefused(
            f"The copy of the model's circuit to machine {change.machine} cannot be undone. Undo later changes instead."
        )
    later = [row.removed_in for row in change.components_fitted.exclude(removed_on=None).select_related("removed_in")]
    later += [row.removed_in for row in change.connections_made.exclude(removed_on=None).select_related("removed_in")]
    if later:
        named = ", ".join(sorted({f"“{one}”" for one in later if one})) or "a change without a name"
        raise ComponentRefused(f"“{change}” cannot be undone: a later change depends on it, {named}. Undo that first.")
    labels = set(change.components_removed.values_list("label", flat=True))
    fitted = change.components_fitted.values("pk")
    there = Component.objects.filter(machine=change.machine, removed_on=None, label__in=labels).exclude(pk__in=fitted)
    if there:
        raise ComponentRefused(
            f"“{change}” cannot be undone: a component called “{there[0]}” is fitted again. Remove it first."
        )


def _refuse_open_ends(connections):
    gone = {end for connection in connections for end in Component.objects.filter(pk__in=[connection.source_id, connection.target_id])}
    gone = sorted({end.label for end in gone if end.removed_on})
    if gone:
        raise ComponentRefused(f"This cannot be undone: {', '.join(gone)} was removed later. Undo that first.")


def _grouped(around, bridge):
    """Return the ends of a removed component to connect with each other; several ends at one port stay a tee."""
    if not bridge:
        return list(around.values())
    through = [end for name, ends in around.items() if name in ("in", "out") for end in ends]
    return [through, *(ends for name, ends in around.items() if name not in ("in", "out"))]


def _join_all(edit, ends):
    """Connect ends to one node, in the direction of flow; ends of one component are not connected to each other."""
    ups = [(port, size) for port, is_upstream, size in ends if is_upstream]
    downs = [(port, size) for port, is_upstream, size in ends if not is_upstream]
    if not ups or not downs:
        ups, downs = (ups or downs)[:1], (ups or downs)[1:]
    pairs = [(up, downs[0]) for up in ups if downs] + [(ups[0], down) for down in downs[1:]]
    for (source, size), (target, other) in pairs:
        if source.component != target.component:
            edit.join(source, target, size or other)
