"""Folds the rows of theatre pollution into one for each class of source, with the causes beneath."""

from collections.abc import Iterable, Mapping
from dataclasses import replace
from types import MappingProxyType

from fleet.circuit.cover_rows import Cause, CauseGroup, CoverRow, Status
from fleet.circuit.state import Likelihood
from fleet.circuit.structure import Circuit

POLLUTION = "theatre-pollution"
SUPPLY_KINDS = (
    "pipeline-inlet", "cylinder-yoke", "yoke-block", "filter", "check-valve", "gauge", "pressure-regulator",
    "regulator-cutoff", "supply-failure-valve", "oxygen-alarm", "pipe-relief-valve", "main-switch",
)  # fmt: skip
SCAVENGING_KINDS = ("scavenging-interface",)
WORDS: Mapping[str, str] = MappingProxyType(
    {
        "extract": "Waste gas is not extracted",
        "connection": "A connection is open",
        "supply": "A supply line leaks or vents",
        "machine": "The machine leaks between flow controls and outlet",
        "breathing": "The breathing system leaks or is overfilled",
        "use": "The machine is used so that gas escapes",
    }
)
GROUPS: Mapping[str, CauseGroup] = MappingProxyType(
    {
        "extract": CauseGroup.SUPPLY,
        "connection": CauseGroup.CONNECTION,
        "use": CauseGroup.USE,
        "supply": CauseGroup.SUPPLY,
    }
)
_STATUSES, _LIKELIHOODS = tuple(Status), tuple(Likelihood)


def source_of(cause: Cause, circuit: Circuit, breathing: frozenset[str]) -> str:
    """Return the class of source by which a cause pollutes."""
    kinds = {circuit.component(fault.component).kind for fault in cause.faults[:1]}
    if kinds & set(SCAVENGING_KINDS) or "extract" in cause.code:
        return "extract"
    if cause.group is CauseGroup.CONNECTION:
        return "connection"
    if cause.group is CauseGroup.SUPPLY or kinds & set(SUPPLY_KINDS):
        return "supply"
    if cause.group is CauseGroup.USE:
        return "use"
    return "breathing" if cause.faults[0].component in breathing else "machine"


def folded(rows: Iterable[CoverRow], circuit: Circuit, breathing: frozenset[str]) -> list[CoverRow]:
    """Return the rows with one row of pollution for each class of source; a class of one row keeps that row."""
    kept, classes = [], {}
    for row in rows:
        if row.hazard == POLLUTION and not row.cause.latent:
            classes.setdefault(source_of(row.cause, circuit, breathing), []).append(row)
        else:
            kept.append(row)
    return [*kept, *(_folded(source, inside) for source, inside in classes.items())]


def _folded(source: str, rows: list[CoverRow]) -> CoverRow:
    inside = sorted(rows, key=_rank)
    worst = inside[0]
    if len(inside) == 1:
        return worst
    cause = replace(
        worst.cause,
        code=f"pollution-{source}",
        title=f"{WORDS[source]}: {len(inside)} causes, first {worst.cause.title}",
        group=GROUPS.get(source, CauseGroup.COMPONENT),
    )
    return replace(worst, cause=cause, beneath=tuple(inside))


def _rank(row: CoverRow):
    return _STATUSES.index(row.status), _LIKELIHOODS.index(row.cause.likelihood), row.cause.title, row.cause.code
