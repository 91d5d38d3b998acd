"""Hooks by which another app adds to the pages of the fleet, because fleet imports no other app.

Each is added once, from an AppConfig's `ready`:

panel        function of request and machine that returns a template name and its context: a section of the machine page
action       function of request and machine that returns a list of MachineAction: what this person may do there
fact         function of request and machine that returns a list of Fact: lines beside the machine's identity
event        function of request, machine and limit that returns its newest Events, at most `limit`
annotation   function of a machine queryset that returns it with more columns, such as `next_due_on`
procedures   function that returns (code, title) of the procedures with an interval
measured     function of a list of machines that returns, by machine key, what was last measured in place of rated
             values: {(component key or code, value key): (SI value, text such as "bench, 2026-03-01")}
contradictions  function of machine, the contradictions between circuit and record that there are now, by and at: it
             opens a finding for new ones, and closes findings of those that are gone; also called with none
"""

from dataclasses import dataclass
from datetime import datetime

_panels = []
_actions = []
_facts = []
_events = []
_annotations = []
_procedures = []
_measured = []
_contradictions = []


@dataclass(frozen=True, slots=True)
class MachineAction:
    """A link among the actions of a machine page; `look` is "primary", "danger" or empty for plain."""

    label: str
    url: str
    look: str = ""


@dataclass(frozen=True, slots=True)
class Fact:
    """A label and a short text; `mark` is a word that has a drawn mark, or empty."""

    label: str
    words: str
    mark: str = ""
    url: str = ""
    note: str = ""


@dataclass(frozen=True, slots=True)
class Event:
    """One line of a machine's history; `mark` is a word that has a drawn mark, or empty."""

    at: datetime
    title: str
    detail: str = ""
    by: str = ""
    mark: str = ""
    url: str = ""


def register_machine_panel(panel):
    _add(_panels, panel)


def register_machine_action(action):
    _add(_actions, action)


def register_machine_facts(source):
    _add(_facts, source)


def register_machine_events(source):
    _add(_events, source)


def register_machine_annotation(annotation):
    _add(_annotations, annotation)


def register_procedures(source):
    _add(_procedures, source)


def register_contradictions(keeper):
    _add(_contradictions, keeper)


def register_measured_values(source):
    _add(_measured, source)


def machine_panels(request, machine):
    """Return (template name, context) of every panel for this machine."""
    return [panel(request, machine) for panel in _panels]


def machine_actions(request, machine):
    """Return the actions that other apps offer this person on this machine."""
    return [offered for action in _actions for offered in action(request, machine)]


def machine_facts(request, machine):
    """Return the facts of other apps about this machine, in the order of their registration."""
    return [fact for source in _facts for fact in source(request, machine)]


def machine_events(request, machine, limit):
    """Return the events of other apps, unsorted, at most `limit` from each source."""
    return [event for source in _events for event in source(request, machine, limit)]


def annotated_machines(machines):
    """Return the queryset with the columns that other apps add to a list of machines."""
    for annotation in _annotations:
        machines = annotation(machines)
    return machines


def procedure_choices():
    """Return (code, title) of the procedures that an earlier inspection can count as."""
    return [choice for source in _procedures for choice in source()]


def tell_contradictions(machine, contradictions, *, by, at):
    """Pass the contradictions of circuit and record to the registered functions."""
    for keeper in _contradictions:
        keeper(machine, contradictions, by=by, at=at)


def measured_values(machine):
    """Return what was last measured on a machine: {(component key or code, value key): (SI value, text)}."""
    return measured_values_of([machine]).get(machine.pk, {})


def measured_values_of(machines):
    """Return the same for many machines, by machine key; a source that was registered later has priority."""
    found = {}
    for source in _measured:
        for pk, values in source(machines).items():
            found.setdefault(pk, {}).update(values)
    return found


def _add(hooks, hook):
    if hook not in hooks:
        hooks.append(hook)
