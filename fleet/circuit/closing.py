"""Finds the smallest sets of safety features that would close what a circuit leaves open, by solving each altered
circuit, not from the catalogue's statements about a feature."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

from fleet.catalogue import FEATURES
from fleet.circuit.additions import ADDABLE, PREVENTING, TELLING, with_feature
from fleet.circuit.as_found import as_if_sound
from fleet.circuit.cover_rows import Cause, CoverRow, CoverTable, Status
from fleet.circuit.cover_sheet import CoverSheet
from fleet.circuit.features_present import Protections
from fleet.circuit.solution import NoSolution
from fleet.circuit.solved_states import Bench
from fleet.circuit.structure import Circuit, Connection
from fleet.circuit.usual_states import ordinary_state

MOST_SETS = 6
MOST_TRIED = 200

__all__ = ["ClosingSet", "Gap", "closing_sets", "with_feature"]


class Gap(NamedTuple):
    """One open row of a cover table: hazard and cause by code, and the cause in words."""

    hazard: str
    cause: str
    title: str


@dataclass(frozen=True, slots=True)
class ClosingSet:
    """Safety features that together close every open row that any safety feature closes.

    features  codes of what is fitted; an unwanted feature is removed
    closes    for each of them what it closes by itself
    closed    what all of them together close, by the solution of the altered circuit
    left      what stays open with all of them
    opens     what they open that was not open before: usually nothing
    can_be_retrofitted  whether the catalogue says so of all of them
    """

    features: tuple[str, ...]
    closes: Mapping[str, tuple[Gap, ...]]
    closed: tuple[Gap, ...]
    left: tuple[Gap, ...]
    opens: tuple[Gap, ...]
    can_be_retrofitted: bool


def closing_sets(circuit: Circuit, table: CoverTable) -> tuple[ClosingSet, ...]:
    """Return the minimal sets of safety features that close all closable open rows of a circuit, at most six.

    Sets that can be retrofitted come first, then smaller ones. Rows that no safety feature closes are `left` in every
    set. Returns an empty tuple if no row is open or none can be closed. A feature is tried if by the catalogue it
    covers the hazard of an open row, and counts only if the altered circuit, solved, no longer leaves that row open.
    """
    rows = {Gap(row.hazard, row.cause.code, row.cause.title): row.cause for row in _single_open_rows(table)}
    bench = Bench(circuit)
    closes = {code: found for code in candidates(circuit) if (found := Tried(circuit, (code,), bench).closed(rows))}
    if (sound := as_if_sound(circuit)) is not circuit:
        lender = Bench(sound)
        closes = {code: found & Tried(sound, (code,), lender).closed(rows) for code, found in closes.items()}
    families = {frozenset(code for code, found in closes.items() if gap in found) for gap in rows}
    chosen = sorted(hitting_sets(families - {frozenset()}), key=lambda codes: _rank(codes, closes))[:MOST_SETS]
    return tuple(_closing_set(circuit, codes, closes, rows, bench) for codes in chosen)


def _single_open_rows(table: CoverTable) -> Iterator[CoverRow]:
    """Yield the open rows; of a row that stands for several, those that are open."""
    for row in table.open_rows:
        yield from (inside for inside in row.beneath or (row,) if inside.status is Status.OPEN)


def candidates(circuit: Circuit) -> tuple[str, ...]:
    """Return the features that the circuit lacks and has a place for, and the unwanted ones that can be removed."""
    present = Protections(circuit, ordinary_state(circuit)).present
    return tuple(code for code in ADDABLE if code not in present and with_feature(circuit, code) is not None)


def hitting_sets(families: Iterable[frozenset[str]]) -> tuple[tuple[str, ...], ...]:
    """Return the minimal sets that share a member with each family: all of them if there are few, else some."""
    found: list[frozenset[str]] = [frozenset()]
    for family in sorted(families, key=lambda family: (len(family), sorted(family))):
        hit = [chosen for chosen in found if chosen & family]
        grown = [chosen | {code} for chosen in found if not chosen & family for code in sorted(family)]
        fresh = [chosen for chosen in grown if not any(other <= chosen for other in hit)]
        found = sorted({*hit, *fresh}, key=lambda chosen: (len(chosen), sorted(chosen)))[:MOST_TRIED]
    minimal = [chosen for chosen in found if not any(other < chosen for other in found)]
    return tuple(tuple(sorted(chosen)) for chosen in minimal if chosen)


def _rank(codes: Sequence[str], closes: Mapping[str, frozenset[Gap]]):
    return not _retrofittable(codes), len(codes), -sum(len(closes[code]) for code in codes), codes


def _retrofittable(codes: Iterable[str]) -> bool:
    return all(FEATURES[code].can_be_retrofitted for code in codes)


def _closing_set(circuit, codes, closes, rows, bench: Bench) -> ClosingSet:
    tried = Tried(circuit, codes, bench)
    closed = tried.closed(rows)
    return ClosingSet(
        features=tuple(codes),
        closes={code: tuple(gap for gap in rows if gap in closes[code]) for code in codes},
        closed=tuple(gap for gap in rows if gap in closed),
        left=tuple(gap for gap in rows if gap not in closed),
        opens=tried.opens(CoverSheet(circuit, lender=bench), rows),
        can_be_retrofitted=_retrofittable(codes),
    )


class Tried:
    """A circuit with some features fitted, and the hazards that its causes then leave open.

    lender  solved states of the circuit without them, reused for features that only alarm
    """

    def __init__(self, circuit: Circuit, codes: Sequence[str], lender: Bench):
        self.circuit, self.altered, self.codes = circuit, circuit, codes
        for code in codes:
            self.altered = with_feature(self.altered, code) or self.altered
        self.hazards = {hazard for code in codes for hazard in FEATURES[code].hazards}
        self.lender = lender if set(codes) <= TELLING else None

    @cached_property
    def sheet(self) -> CoverSheet:
        return CoverSheet(self.altered, lender=self.lender)

    def closed(self, rows: Mapping[Gap, Cause]) -> frozenset[Gap]:
        """Return which open rows are now closed."""
        return frozenset(
            gap for gap, cause in self._touched(rows) if gap.hazard not in self.open_in(cause, (gap.hazard,))
        )

    def opens(self, before: CoverSheet, rows: Mapping[Gap, Cause]) -> tuple[Gap, ...]:
        """Return what these causes leave open that was not open before."""
        causes = {cause.code: cause for _, cause in self._touched(rows)}
        return tuple(
            Gap(hazard, cause.code, cause.title)
            for cause in causes.values()
            for hazard in self.open_in(cause, ())
            if hazard not in before.open_hazards(cause)
        )

    def open_in(self, cause: Cause, unsolved: tuple[str, ...]) -> tuple[str, ...]:
        """Return the hazards that a cause leaves open; `unsolved` if the altered circuit has no solution."""
        if self.sheet.protections.preventing(cause):
            return ()
        try:
            return self.sheet.open_hazards(moved(cause, self.circuit, self.altered))
        except NoSolution:
            return unsolved

    def _touched(self, rows: Mapping[Gap, Cause]):
        """Yield the rows that the features may close: they prevent the cause, or the catalogue names the hazard."""
        only_fittings = set(self.codes) <= PREVENTING
        for gap, cause in rows.items():
            prevents = bool(set(cause.prevented_by) & set(self.codes))
            if prevents or (gap.hazard in self.hazards and not only_fittings):
                yield gap, cause


def moved(cause: Cause, circuit: Circuit, altered: Circuit) -> Cause:
    """Return a cause of a circuit as a cause of the altered circuit, whose connections may have another size."""
    ends = {(connection.source, connection.target): connection for connection in altered.connections}

    def there(connection: Connection) -> Connection:
        return (
            ends.get((connection.source, connection.target), connection)
            if connection in circuit.connections
            else connection
        )

    state = replace(cause.state, cut=frozenset(there(connection) for connection in cause.state.cut))
    components = {component.code for component in altered.components}
    settings = {code: values for code, values in state.settings.items() if code in components}
    return replace(cause, state=replace(state, settings=settings))
