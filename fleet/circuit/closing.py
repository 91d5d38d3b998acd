"""Finds the smallest sets of safety features that would close what a circuit leaves open, by solving each altered
circuit, not from the catalogue's statements about a feature."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

from fleet.catalogue import FEATURES
from fleet.circuit.additions import ADDABLE, PREVENTING, TELLING, with_feature
from fleet.circuit.as_found import as_if_sound
from fleet.circuit.collection import no_collection
from fleet.circuit.cover_rows import Cause, CoverRow, CoverTable, Status
from fleet.circuit.cover_sheet import CoverSheet
from fleet.circuit.features_present import Protections
from fleet.circuit.solution import NoSolution
from fleet.circuit.solved_states import Bench, Wanted, prepare_together
from fleet.circuit.structure import Circuit, Connection
from fleet.circuit.usual_states import ordinary_state

MOST_SETS = 6
MOST_TRIED = 200
_NONE: frozenset[str] = frozenset()

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
    closes = closed_alone(candidates(circuit), rows, bench)
    if (sound := as_if_sound(circuit)) is not circuit:
        if_sound = closed_alone(closes, rows, Bench(sound))
        closes = {code: found & if_sound.get(code, frozenset()) for code, found in closes.items()}
    families = {frozenset(code for code, found in closes.items() if gap in found) for gap in rows}
    chosen = sorted(hitting_sets(families - {frozenset()}), key=lambda codes: _rank(codes, closes))[:MOST_SETS]
    return tuple(_closing_set(tried, closes, rows) for tried in tried_together(chosen, rows, bench))


def closed_alone(codes: Iterable[str], rows: Mapping[Gap, Cause], bench: Bench) -> dict[str, frozenset[Gap]]:
    """Return the open rows that each safety feature closes by itself; one that closes none is left out."""
    tried = tried_together([(code,) for code in codes], rows, bench)
    return {one.codes[0]: found for one in tried if (found := one.closed(rows))}


def tried_together(sets: Iterable[Sequence[str]], rows: Mapping[Gap, Cause], bench: Bench) -> "list[Tried]":
    """Return a circuit for each set of safety features, with what it is asked solved at once for all of them."""
    tried = [Tried(codes, bench) for codes in sets]
    asked = [(one, causes) for one in tried if (causes := one.in_question(rows))]
    with no_collection():
        bench.prepare(states_of(bench.circuit, [cause for _, causes in asked for cause in causes]))
        prepare_together(
            (one.bench, states_of(one.altered, [moved(cause, one.circuit, one.altered) for cause in causes]))
            for one, causes in asked
        )
    return tried


def states_of(circuit: Circuit, causes: Sequence[Cause]) -> list[Wanted]:
    """Return the states of these causes on the machine as it is, and ordinary use; nothing without a cause."""
    ordinary = [(ordinary_state(circuit), (), _NONE)] if causes else []
    return [*ordinary, *((cause.state, cause.faults, _NONE) for cause in causes)]


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


def _closing_set(tried: "Tried", closes: Mapping[str, frozenset[Gap]], rows) -> ClosingSet:
    closed = tried.closed(rows)
    return ClosingSet(
        features=tuple(tried.codes),
        closes={code: tuple(gap for gap in rows if gap in closes[code]) for code in tried.codes},
        closed=tuple(gap for gap in rows if gap in closed),
        left=tuple(gap for gap in rows if gap not in closed),
        opens=tried.opens(rows),
        can_be_retrofitted=_retrofittable(tried.codes),
    )


class Tried:
    """A circuit with some features fitted, and the hazards that its causes then leave open.

    before  solved states of the circuit without them: they hold for features that only alarm, and are near the others
    """

    def __init__(self, codes: Sequence[str], before: Bench):
        self.circuit, self.altered, self.codes = before.circuit, before.circuit, codes
        for code in codes:
            self.altered = with_feature(self.altered, code) or self.altered
        self.hazards = {hazard for code in codes for hazard in FEATURES[code].hazards}
        self.before = before
        self.bench = Bench(self.altered, before if set(codes) <= TELLING else None, before)

    @cached_property
    def sheet(self) -> CoverSheet:
        return CoverSheet(self.altered, self.bench)

    @cached_property
    def protections(self) -> Protections:
        return Protections(self.altered, ordinary_state(self.altered))

    def in_question(self, rows: Mapping[Gap, Cause]) -> list[Cause]:
        """Return the causes whose flows tell which of these rows are closed and what is opened."""
        return [cause for _, cause in self._touched(rows) if not self.protections.preventing(cause)]

    def closed(self, rows: Mapping[Gap, Cause]) -> frozenset[Gap]:
        """Return which open rows are now closed."""
        return frozenset(
            gap for gap, cause in self._touched(rows) if gap.hazard not in self.open_in(cause, (gap.hazard,))
        )

    def opens(self, rows: Mapping[Gap, Cause]) -> tuple[Gap, ...]:
        """Return what these causes leave open that was not open before."""
        before = CoverSheet(self.circuit, self.before)
        causes = {cause.code: cause for _, cause in self._touched(rows)}
        return tuple(
            Gap(hazard, cause.code, cause.title)
            for cause in causes.values()
            for hazard in self.open_in(cause, ())
            if hazard not in before.open_hazards(cause)
        )

    def open_in(self, cause: Cause, unsolved: tuple[str, ...]) -> tuple[str, ...]:
        """Return the hazards that a cause leaves open; `unsolved` if the altered circuit has no solution."""
        if self.protections.preventing(cause):
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
