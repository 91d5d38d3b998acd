"""What another app adds to the fleet, since the fleet imports no other app.

An app declares all that it adds as one Extension and registers it once, when it starts.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import NamedTuple

from django.db.models import Model, QuerySet
from django.http import HttpRequest

from fleet.circuit.derived_features import Contradiction
from fleet.models import Calibration, Machine


@dataclass(frozen=True, slots=True)
class MachineAction:
    """A link among the actions of a machine page; `look` is "primary", "danger" or empty for plain."""

    label: str
    url: str
    look: str = ""


@dataclass(frozen=True, slots=True)
class MachinePage:
    """One page of a machine beside its overview: the label of its tab and the name of its address."""

    label: str
    url_name: str


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


class MeasuredValue(NamedTuple):
    """What was last measured of a component: an SI value, or the failure in which it was found.

    words     its origin, such as "bench, 2026-03-01"
    decision  that of the result, empty if it is reported only; only "pass" proves anything
    failure   a failure mode of the component's element; `value` is then None
    """

    value: float | None
    words: str
    decision: str = ""
    failure: str = ""


# (key of a component or code of a part, key of the value) -> what was measured
MeasuredValues = Mapping[tuple[int | str, str], MeasuredValue]

MachinePanel = Callable[[HttpRequest, Machine], tuple[str, dict]]
MachineActions = Callable[[HttpRequest, Machine], Iterable[MachineAction]]
MachineFacts = Callable[[HttpRequest, Machine], Iterable[Fact]]
MachineEvents = Callable[[HttpRequest, Machine, int], Iterable[Event]]
MachineColumns = Callable[[QuerySet], QuerySet]
Procedures = Callable[[], Iterable[tuple[str, str]]]
LabelReader = Callable[[str], int | None]
Measurements = Callable[[Sequence[Machine]], Mapping[int, MeasuredValues]]
ContradictionKeeper = Callable[..., None]
ListLinks = Callable[[HttpRequest], Iterable[MachineAction]]
CalibrationLinks = Callable[[HttpRequest, Calibration], Iterable[MachineAction]]
AfterImport = Callable[..., object]
AfterAlteration = Callable[..., object]


@dataclass(frozen=True, slots=True, kw_only=True)
class Extension:
    """All that one app adds; what is left out adds nothing.

    panels          sections of the overview of a machine: the name of a template and its context
    pages           further pages of a machine, each with a tab of its own
    actions         links among the actions of a machine page, for the person of the request
    facts           lines beside the identity of a machine
    events          the newest events of a machine, at most as many as the limit
    columns         adds columns such as `next_due_on` to a queryset of machines
    counts          adds `open_findings` and `essential_findings` to a queryset of machines
    procedures      code and title of the procedures with an interval
    labelled        key of the machine whose label bears a text, None for a text that no label bears
    measured        by machine key, what was last measured in place of rated values
    measured_in     journaled models with a `machine`: where no row of them is written, no measured value changes
    contradictions  function of machine, contradictions, by and at: opens what must be dealt with and closes what is
                    gone; called without any, too
    covers          function of the keys of machines that have another computed circuit, in that transaction
    calibrations    links on the page of a calibration, for the person of the request
    list_links      links below the list of machines, which take its filter along, for the person of the request
    cover_links     links on the page of the cover report, for the person of the request
    retired         link to what is to be done with a machine that was retired
    imported        function of by and at, called after a register file was imported, within its transaction if any
    altered         function of machine, words, by and at, called within the transaction that altered a machine: asks
                    for the retest
    """

    app: str
    panels: tuple[MachinePanel, ...] = ()
    pages: tuple[MachinePage, ...] = ()
    actions: MachineActions | None = None
    facts: MachineFacts | None = None
    events: MachineEvents | None = None
    columns: MachineColumns | None = None
    counts: MachineColumns | None = None
    procedures: Procedures | None = None
    labelled: LabelReader | None = None
    measured: Measurements | None = None
    measured_in: tuple[type[Model], ...] = ()
    contradictions: ContradictionKeeper | None = None
    covers: Callable[[Iterable[int]], None] | None = None
    calibrations: CalibrationLinks | None = None
    list_links: ListLinks | None = None
    cover_links: ListLinks | None = None
    retired: Callable[[Machine], str] | None = None
    imported: AfterImport | None = None
    altered: AfterAlteration | None = None


_extensions: dict[str, Extension] = {}


def extend_fleet(extension):
    """Register what an app adds, in place of what it added before."""
    _extensions[extension.app] = extension


def machine_panels(request, machine):
    """Return (template name, context) of every panel for this machine."""
    return [panel(request, machine) for one in _extensions.values() for panel in one.panels]


def further_machine_pages():
    """Return the pages of a machine that other apps have, in the order in which the apps were registered."""
    return [page for one in _extensions.values() for page in one.pages]


def machine_actions(request, machine):
    """Return the actions that other apps offer this person on this machine."""
    return [action for add in _all("actions") for action in add(request, machine)]


def calibration_links(request, calibration):
    """Return the links that other apps offer this person on the page of a calibration."""
    return [link for add in _all("calibrations") for link in add(request, calibration)]


def list_links(request):
    """Return the links that other apps offer this person below the list of machines."""
    return [link for add in _all("list_links") for link in add(request)]


def cover_links(request):
    """Return the links that other apps offer this person on the page of the cover report."""
    return [link for add in _all("cover_links") for link in add(request)]


def page_after_retirement(machine):
    """Return the address of the page that says what is to be done with a machine that was retired."""
    return next((address(machine) for address in _all("retired")), machine.get_absolute_url())


def machine_facts(request, machine):
    """Return the facts of other apps about this machine, in the order in which the apps were registered."""
    return [fact for add in _all("facts") for fact in add(request, machine)]


def machine_events(request, machine, limit):
    """Return the events of other apps, in no order, at most `limit` from each app."""
    return [event for add in _all("events") for event in add(request, machine, limit)]


def annotated_machines(machines):
    """Return the queryset with the columns that other apps add to a list of machines."""
    for add in _all("columns"):
        machines = add(machines)
    return machines


def counted_machines(machines):
    """Return the queryset with the numbers of findings that other apps add."""
    for add in _all("counts"):
        machines = add(machines)
    return machines


def procedure_choices():
    """Return (code, title) of the procedures that an earlier inspection can count as."""
    return [choice for add in _all("procedures") for choice in add()]


def machine_key_on_label(text):
    """Return the key of the machine whose label bears `text`, a code or an address; None if none does."""
    return next((pk for read in _all("labelled") if (pk := read(text)) is not None), None)


def tell_contradictions(machine, contradictions: Sequence[Contradiction], *, by, at):
    """Pass disagreements of circuit and record to the app that handles them."""
    for keep in _all("contradictions"):
        keep(machine, contradictions, by=by, at=at)


def tell_covers(machines: Iterable[int]):
    """Tell the other apps which machines have another computed circuit."""
    for follow in _all("covers"):
        follow(machines)


def tell_imported(*, by, at):
    """Say that rows of the register were imported."""
    for tell in _all("imported"):
        tell(by=by, at=at)


def tell_altered(machine, words, *, by, at):
    """Say that a machine was altered: what proves it safe again is asked for."""
    for tell in _all("altered"):
        tell(machine, words, by=by, at=at)


def measured_values_of(machines) -> dict[int, MeasuredValues]:
    """Return what was last measured on machines, by machine key; an app that was registered later counts."""
    found = {}
    for measure in _all("measured"):
        for pk, values in measure(machines).items():
            found.setdefault(pk, {}).update(values)
    return found


def measurers() -> list[Measurements]:
    """Return the functions that tell what was last measured."""
    return _all("measured")


def models_of_measurements() -> list[type[Model]]:
    """Return the models on whose rows the measured values rest."""
    return [model for one in _extensions.values() for model in one.measured_in]


def _all(name):
    """What the extensions have under a name, without those that have nothing."""
    return [added for one in _extensions.values() if (added := getattr(one, name)) is not None]
