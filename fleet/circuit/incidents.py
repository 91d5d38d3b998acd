"""The failures that a component of each kind is known for, from incidents.toml, and the rows that are not judged."""

from collections.abc import Iterator
from dataclasses import dataclass
from fnmatch import fnmatchcase

from fleet.catalogue import COMPONENT_KINDS, HAZARDS
from fleet.catalogue.loading import Entry, Source, read_tables
from fleet.circuit.cover_rows import Cause, CauseGroup, CoverRow, Status
from fleet.circuit.state import Likelihood, State
from fleet.circuit.structure import Circuit, Component

FAILURE, CAUSE, NOT_JUDGED = POSED = ("failure", "cause", "not judged")
_KEYS = ("kind", "what", "posed", "mode", "cause", "hazards", "reason", "source", "edition", "basis")


@dataclass(frozen=True, slots=True)
class Incident:
    """One failure that components of a kind are known for, and how the cover table poses it.

    mode     failure mode of the element; cause: pattern of the code of a cause; reason: why it is not judged
    hazards  of a failure that is not judged
    """

    kind: str
    what: str
    posed: str
    mode: str
    cause: str
    hazards: tuple[str, ...]
    reason: str
    source: Source

    def is_posed_by(self, component: Component, cause: Cause) -> bool:
        """Return whether a cause is this failure of that component."""
        if self.posed == FAILURE:
            return any((fault.component, fault.mode) == (component.code, self.mode) for fault in cause.faults)
        return self.posed == CAUSE and fnmatchcase(cause.code, self.cause.format(component=component.code))


def incident_from(entry: Entry) -> Incident:
    """Return the failure that a TOML table describes. Raises CatalogueError."""
    entry.check_keys(_KEYS)
    if (kind := entry.text("kind")) not in COMPONENT_KINDS:
        raise entry.refuse(f"kind is {kind!r}; accepted: {', '.join(COMPONENT_KINDS)}.")
    if (posed := entry.text("posed")) not in POSED:
        raise entry.refuse(f"posed is {posed!r}; accepted: {', '.join(POSED)}.")
    return Incident(
        kind=kind,
        what=entry.text("what"),
        posed=posed,
        mode=entry.text("mode", may_be_empty=posed != FAILURE),
        cause=entry.text("cause", may_be_empty=posed != CAUSE),
        hazards=entry.codes("hazards", tuple(HAZARDS)),
        reason=entry.text("reason", may_be_empty=posed != NOT_JUDGED),
        source=entry.source(),
    )


INCIDENTS: tuple[Incident, ...] = tuple(map(incident_from, read_tables("fleet.circuit", "incidents.toml", "incident")))


def rows_not_judged(circuit: Circuit, ordinary: State) -> Iterator[CoverRow]:
    """Yield a row for every failure of a component of the circuit that mean flows do not show."""
    for incident in INCIDENTS:
        components = circuit.of_kind(incident.kind)
        if incident.posed != NOT_JUDGED or not components:
            continue
        labels = " or ".join(dict.fromkeys(component.label for component in components))
        slug = "-".join(incident.what.replace(",", "").split())
        title = f"{labels}: {incident.what}"
        cause = Cause(f"{incident.kind}-{slug}", title, CauseGroup.COMPONENT, Likelihood.OCCASIONAL, ordinary)
        for hazard in incident.hazards:
            yield CoverRow(
                hazard=hazard,
                cause=cause,
                status=Status.NOT_JUDGED,
                stopped_by=(),
                told_by=(),
                steps=(f"{title[:1].upper()}{title[1:]}.", incident.reason),
                figures=None,
                without=None,
            )
