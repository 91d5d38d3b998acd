"""Computes the cover table: for every cause its possible hazards, and what stops or alarms each, if anything."""

from collections.abc import Callable, Iterable, Sequence
from functools import cached_property

from fleet.catalogue import FEATURES, HAZARDS
from fleet.circuit.causes import causes_of
from fleet.circuit.cover_rows import Cause, CauseGroup, CoverRow, CoverTable, Status, Unsolved
from fleet.circuit.digest import circuit_digest
from fleet.circuit.explain import Explained, steps_of
from fleet.circuit.features_present import Protections
from fleet.circuit.solution import NoSolution
from fleet.circuit.solved_states import Bench, Looked
from fleet.circuit.state import Likelihood
from fleet.circuit.structure import Circuit
from fleet.circuit.usual_states import ordinary_state

Progress = Callable[[int, int], None]

_STATUS_ORDER = (Status.OPEN, Status.TOLD, Status.STOPPED)
_LIKELIHOOD_ORDER = tuple(Likelihood)


def cover_table(
    circuit: Circuit, *, causes: Sequence[Cause] | None = None, progress: Progress | None = None
) -> CoverTable:
    """Return the cover table of a circuit.

    causes    default: every single cause; give pairs_of(circuit) for pairs
    progress  called with (causes done, causes in all)

    A row is a hazard that a cause leads to on the machine as it is, or would lead to without any safety feature.
    Hazards of ordinary use are not repeated for every cause, nor hazards of one cause for a pair that contains it.
    Raises NoSolution if ordinary use has none.
    """
    chosen = causes_of(circuit) if causes is None else tuple(causes)
    sheet = CoverSheet(circuit)
    rows, unsolved = [], []
    for number, cause in enumerate(chosen, start=1):
        try:
            rows += sheet.rows(cause)
        except NoSolution as error:
            unsolved.append(Unsolved(cause, str(error)))
        if progress:
            progress(number, len(chosen))
    return CoverTable(
        circuit=circuit.title,
        digest=circuit_digest(circuit),
        causes=len(chosen),
        rows=tuple(sorted(rows, key=_rank)),
        unsolved=tuple(unsolved),
    )


def _rank(row: CoverRow):
    order = list(HAZARDS)
    return (
        order.index(row.hazard),
        _order(row.status),
        _LIKELIHOOD_ORDER.index(row.cause.likelihood),
        row.cause.title,
        row.cause.code,
    )


def _order(status: Status | None) -> int:
    return len(_STATUS_ORDER) if status is None else _STATUS_ORDER.index(status)


class CoverSheet:
    """What the rows of one circuit share: its solved states and its safety features.

    lender  solved states of a circuit that differs from this one at most by components that only alarm
    """

    def __init__(self, circuit: Circuit, lender: Bench | None = None):
        self.circuit = circuit
        self.ordinary_state = ordinary_state(circuit)
        self.bench = Bench(circuit, lender)
        self.protections = Protections(circuit, self.ordinary_state)
        self.all = frozenset(self.protections.acting)
        self.ordinary = self.bench.look(self.ordinary_state)
        self._standings: dict[str, dict[str, Status]] = {}

    @cached_property
    def ordinary_bare(self) -> Looked:
        """Ordinary use without any safety feature."""
        return self.bench.look(self.ordinary_state, (), self.all)

    def rows(self, cause: Cause) -> list[CoverRow]:
        """Return the rows of one cause. Raises NoSolution if it has no steady flow, with safety features or without."""
        taken = self.taken(cause)
        whole = self.bench.look(cause.state, cause.faults)
        bare = self.bench.look(cause.state, cause.faults, taken)
        preventing = self.protections.preventing(cause)
        found = self.hazards(cause, taken)
        statuses = {hazard: self._status(hazard, whole, preventing) for hazard in found}
        return [
            self._row(cause, hazard, status, whole, bare, preventing)
            for hazard, status in statuses.items()
            if self._is_news(cause, hazard, status)
        ]

    def taken(self, cause: Cause) -> frozenset[str]:
        """Return the safety features to remove to see what the cause would lead to without them.

        One that ordinary use depends on stays, unless the cause acts on a component that provides it.
        """
        if self._is_ordinary(cause):
            return self.all
        touched = {fault.component for fault in cause.faults} | {connection.target.component for connection in cause.state.cut}
        touched |= {code for code, settings in cause.state.settings.items() if settings != self.ordinary_state.of(code)}
        kept = {code for code in self.needed_daily if not touched & set(self.protections.components_with(code))}
        return self.all - kept

    @cached_property
    def needed_daily(self) -> tuple[str, ...]:
        """The safety features without which ordinary use itself is a hazard."""
        bare = set(self.ordinary_bare.hazards) - set(self.ordinary.hazards)
        ordinary = Cause("ordinary-use", "", CauseGroup.USE, Likelihood.COMMON, self.ordinary_state)
        acting = self.protections.acting
        return tuple(code for code in acting if any(not self._is_stopped(ordinary, one, {code}) for one in bare))

    def _is_ordinary(self, cause: Cause) -> bool:
        return cause.state == self.ordinary_state and not cause.faults

    def open_hazards(self, cause: Cause, removed: Iterable[str] = ()) -> tuple[str, ...]:
        """Return the hazards that occur without an alarm, with some safety features removed."""
        if self.protections.preventing(cause, removed):
            return ()
        found = self.bench.look(cause.state, cause.faults, self.all & frozenset(removed))
        return tuple(hazard for hazard in self.hazards(cause, removed) if not self.told_by(hazard, found, removed))

    def hazards(self, cause: Cause, removed: Iterable[str] = ()) -> tuple[str, ...]:
        """Return the hazards that a cause leads to with some safety features removed, in the order of the catalogue.

        They include the hazards on the machine as it is, so that removing a safety feature never closes a hazard. A
        check valve retains the pressure of a failed regulator, and a cut-off valve in the air line also cuts the oxygen
        in the air; neither is a reason to omit the valve.
        """
        whole = self.bench.look(cause.state, cause.faults).hazards
        bare = self.bench.look(cause.state, cause.faults, self.all & frozenset(removed)).hazards
        return tuple(hazard for hazard in HAZARDS if hazard in {*whole, *bare})

    def told_by(self, hazard: str, found: Looked, removed: Iterable[str] = ()) -> tuple[str, ...]:
        """Return the features that alarm on a hazard with an alarm that ordinary use does not raise."""
        covering = {code for code, feature in FEATURES.items() if hazard in feature.hazards} - set(removed)
        always = set(self.ordinary.telling(covering))
        return tuple(code for code in found.telling(covering) if code not in always)

    def _status(self, hazard: str, whole: Looked, preventing: tuple[str, ...]) -> Status:
        if preventing or hazard not in whole.hazards:
            return Status.STOPPED
        return Status.TOLD if self.told_by(hazard, whole) else Status.OPEN

    def _row(self, cause: Cause, hazard: str, status: Status, whole: Looked, bare: Looked, preventing) -> CoverRow:
        stopped_by, together = (), False
        if status is Status.STOPPED:
            stopped_by, together = self._stopped_by(cause, hazard, whole, preventing)
        told = () if preventing else self.told_by(hazard, whole)
        explained = Explained(cause, hazard, status, stopped_by, told, together, self.protections)
        return CoverRow(
            hazard=hazard,
            cause=cause,
            status=status,
            stopped_by=stopped_by,
            told_by=told,
            steps=steps_of(explained, self.ordinary.seen, whole.seen, bare.seen),
            figures=(self.ordinary if preventing else whole).seen.figures,
            without=bare.seen.figures,
            together=together,
        )

    def _stopped_by(self, cause, hazard, whole: Looked, preventing) -> tuple[tuple[str, ...], bool]:
        """Return the features each of which alone stops the hazard; else those that stop it together, and True."""
        if hazard in whole.hazards:
            return preventing, False
        taken = self.taken(cause)
        acting = [code for code in self.protections.acting if code in taken]
        alone = tuple(code for code in acting if self._is_stopped(cause, hazard, taken - {code}))
        if alone or preventing:
            return (*preventing, *alone), False
        needed = acting
        for code in acting:
            fewer = [other for other in needed if other != code]
            if self._is_stopped(cause, hazard, taken - set(fewer)):
                needed = fewer
        return tuple(needed), True

    def _is_stopped(self, cause: Cause, hazard: str, removed: frozenset[str]) -> bool:
        try:
            return hazard not in self.bench.look(cause.state, cause.faults, removed).hazards
        except NoSolution:
            return False

    def _standing(self, code: str) -> dict[str, Status]:
        """Return the status of each hazard that a single cause leads to; empty if the cause is unsolved."""
        if code not in self._standings:
            self._standings[code] = self._statuses(self._singles[code]) if code in self._singles else {}
        return self._standings[code]

    def _statuses(self, cause: Cause) -> dict[str, Status]:
        try:
            whole, preventing = self.bench.look(cause.state, cause.faults), self.protections.preventing(cause)
            return {each: self._status(each, whole, preventing) for each in self.hazards(cause, self.taken(cause))}
        except NoSolution:
            return {}

    @cached_property
    def _singles(self) -> dict[str, Cause]:
        return {cause.code: cause for cause in causes_of(self.circuit)}

    def _is_news(self, cause: Cause, hazard: str, status: Status) -> bool:
        """Return whether a row adds information to the rows of simpler causes.

        Those are ordinary use; for a fault, the state in which it occurs; for a pair, either of the two causes.
        """
        comes_about = status is not Status.STOPPED
        if self._is_ordinary(cause):
            return True
        if hazard in self.ordinary.hazards or (hazard in self.ordinary_bare.hazards and not comes_about):
            return False
        if cause.components_of:
            return all(_order(status) < _order(self._standing(code).get(hazard)) for code in cause.components_of)
        if not cause.faults:
            return True
        before = self.bench.look(cause.state)
        if hazard in before.hazards:
            return False
        return comes_about or hazard not in self.bench.look(cause.state, (), self.taken(cause)).hazards
