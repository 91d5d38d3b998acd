"""The rows of a cover table for one circuit: what each cause leads to, and what stops it or alarms."""

from collections.abc import Iterable, Iterator, Sequence
from functools import cached_property

from fleet.catalogue import FEATURES, HAZARDS
from fleet.circuit.causes import causes_of
from fleet.circuit.cover_rows import Cause, CauseGroup, CoverRow, Status
from fleet.circuit.explain import Explained, steps_of
from fleet.circuit.features_present import Protections
from fleet.circuit.latent_failures import latent_causes
from fleet.circuit.solution import NoSolution
from fleet.circuit.solved_states import Bench, Looked, Wanted
from fleet.circuit.state import Likelihood
from fleet.circuit.structure import Circuit
from fleet.circuit.usual_states import ordinary_state
from fleet.circuit.working_points import JUDGED, WorkingPoint, cause_at, points_of, working_points

_STATUSES = tuple(Status)


def _removed(row: CoverRow, cause: Cause, code: str) -> tuple[str, ...]:
    """Return the protections that a latent cause removes: the sole one, unless it fails as a component."""
    return () if len(cause.faults) > len(row.cause.faults) else (code,)


def order_of(status: Status | None) -> int:
    """Return the place of a status from open to stopped; that of no row comes last."""
    return len(_STATUSES) if status is None else _STATUSES.index(status)


class CoverSheet:
    """What the rows of one circuit share: its solved states and its safety features.

    bench  its solved states, if there are any yet
    """

    def __init__(self, circuit: Circuit, bench: Bench | None = None):
        self.circuit = circuit
        self.ordinary_state = ordinary_state(circuit)
        self.bench = bench or Bench(circuit)
        self.protections = Protections(circuit, self.ordinary_state)
        self.all = frozenset(self.protections.acting)
        self.ordinary = self.bench.look(self.ordinary_state)
        self._standings: dict[str, dict[str, Status]] = {}
        self._there: dict[int, tuple[Cause, list[tuple[WorkingPoint, Cause]]]] = {}

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
            if self._is_news(cause, hazard, status, hazard in whole.hazards)
        ]

    def taken(self, cause: Cause) -> frozenset[str]:
        """Return the safety features to remove to see what the cause would lead to without them.

        One that ordinary use depends on stays, unless the cause acts on a component that provides it.
        """
        if self._is_ordinary(cause):
            return self.all
        touched = {fault.component for fault in cause.faults} | {
            connection.target.component for connection in cause.state.cut
        }
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

    @cached_property
    def points(self) -> dict[str, WorkingPoint]:
        return working_points(self.circuit, self.ordinary_state)

    def rows_at_all_points(self, cause: Cause) -> list[CoverRow]:
        """Return the rows of one cause, of each hazard the worst over the working points."""
        found = {row.hazard: row for row in self.rows(cause)}
        for point, _ in self._at_points(cause):
            for row in self._rows_at(cause, point):
                if row.hazard not in found or order_of(row.status) < order_of(found[row.hazard].status):
                    found[row.hazard] = row
        return list(found.values())

    def _rows_at(self, cause: Cause, point: WorkingPoint) -> list[CoverRow]:
        """Return the rows of the hazards that occur at a working point, on the machine as it is."""
        there = cause_at(cause, point, self.ordinary_state)
        hazards = self._hazards_at(there, point)
        if not hazards:
            return []
        try:
            usual, whole = self.bench.look(point.state), self.bench.look(there.state, there.faults)
            bare = self.bench.look(there.state, there.faults, self.all)
        except NoSolution:
            return []
        preventing = self.protections.preventing(cause)
        return [
            self._row(there, hazard, self._status(hazard, whole, preventing, usual), whole, bare, preventing, usual)
            for hazard in hazards
        ]

    def _hazards_at(self, there: Cause, point: WorkingPoint) -> list[str]:
        """Return the hazards that a cause adds at a working point, on the machine as it is."""
        try:
            usual, whole = self.bench.look(point.state), self.bench.look(there.state, there.faults)
        except NoSolution:
            return []
        return [each for each in JUDGED if each in whole.hazards and each not in usual.hazards]

    def prepare(self, causes: Sequence[Cause]) -> None:
        """Solve at once what the rows of these causes ask for: first the causes, then what stops their hazards."""
        none, ordinary = frozenset(), self.ordinary_state
        points = [(point.state, (), none) for point in self.points.values()]
        acting = [(ordinary, (), frozenset({code})) for code in self.protections.acting]
        self.bench.prepare([(ordinary, (), self.all), *points, *acting])
        wanted = []
        for cause in causes:
            wanted += [(cause.state, cause.faults, none), (cause.state, cause.faults, self.taken(cause))]
            wanted += [(there.state, there.faults, none) for _, there in self._at_points(cause)]
        self.bench.prepare((state, (), taken) for state, _, taken in wanted)
        self.bench.prepare(wanted)
        self.bench.prepare([each for cause in causes for each in (*self._bare_at_points(cause), *self._trials(cause))])

    def _at_points(self, cause: Cause) -> list[tuple[WorkingPoint, Cause]]:
        """Return the cause at each working point at which ordinary use may hide what it does."""
        if cause.components_of:
            return []
        if id(cause) not in self._there:
            points = points_of(cause, self.circuit, self.points)
            found = [(point, cause_at(cause, point, self.ordinary_state)) for point in points]
            self._there[id(cause)] = cause, found
        return self._there[id(cause)][1]

    def _bare_at_points(self, cause: Cause) -> Iterator[Wanted]:
        for point, there in self._at_points(cause):
            if self._hazards_at(there, point):
                yield there.state, there.faults, self.all

    def _trials(self, cause: Cause) -> Iterator[Wanted]:
        """Yield the states that tell which single safety feature stops a hazard of the cause."""
        try:
            whole, taken = self.bench.look(cause.state, cause.faults), self.taken(cause)
            hazards = set(self.hazards(cause, taken)) - set(whole.hazards)
            if any(self._is_news(cause, hazard, Status.STOPPED, False) for hazard in hazards):
                for code in self.protections.acting:
                    if code in taken:
                        yield cause.state, cause.faults, taken - {code}
        except NoSolution:
            return

    def prepare_latent(self, rows: Iterable[CoverRow]) -> None:
        """Solve at once what latent_rows asks for."""
        latent = [(row, *each) for row in rows for each in latent_causes(row, self.protections)]
        self.bench.prepare(
            [(cause.state, cause.faults, self.all & set(_removed(row, cause, code))) for row, cause, code in latent]
        )

    def latent_rows(self, row: CoverRow) -> list[CoverRow]:
        """Return the rows in which the only protection of a row has failed unnoticed before its cause."""
        found = []
        for cause, code in latent_causes(row, self.protections):
            removed = _removed(row, cause, code)
            try:
                whole = self.bench.look(cause.state, cause.faults, self.all & set(removed))
            except NoSolution:
                continue
            if row.hazard not in whole.hazards:
                continue
            preventing = self.protections.preventing(cause, removed)
            status = self._status(row.hazard, whole, preventing, removed=removed)
            if status is not Status.STOPPED:
                found.append(self._row(cause, row.hazard, status, whole, whole, (), removed=removed))
        return found

    def _is_ordinary(self, cause: Cause) -> bool:
        return cause.state == self.ordinary_state and not cause.faults

    def open_hazards(self, cause: Cause, removed: Iterable[str] = ()) -> tuple[str, ...]:
        """Return the hazards that occur without an alarm, with some safety features removed."""
        if self.protections.preventing(cause, removed):
            return ()
        looks = [
            self.bench.look(cause.state, cause.faults),
            self.bench.look(cause.state, cause.faults, self.all & frozenset(removed)),
        ]
        return tuple(
            hazard
            for hazard in HAZARDS
            if any(hazard in each.hazards and not self.told_by(hazard, each, removed) for each in looks)
        )

    def hazards(self, cause: Cause, removed: Iterable[str] = ()) -> tuple[str, ...]:
        """Return the hazards that a cause leads to with some safety features removed, in the order of the catalogue.

        They include the hazards on the machine as it is, so that removing a safety feature never closes a hazard. A
        check valve retains the pressure of a failed regulator, and a cut-off valve in the air line also cuts the oxygen
        in the air; neither is a reason to omit the valve.
        """
        whole = self.bench.look(cause.state, cause.faults).hazards
        bare = self.bench.look(cause.state, cause.faults, self.all & frozenset(removed)).hazards
        return tuple(hazard for hazard in HAZARDS if hazard in {*whole, *bare})

    def told_by(
        self, hazard: str, found: Looked, removed: Iterable[str] = (), usual: Looked | None = None
    ) -> tuple[str, ...]:
        """Return the features that alarm while a hazard occurs, with an alarm that ordinary use does not raise.

        An alarm on any hazard of the state counts for all of them: who goes to see why it sounds finds the cause.
        usual  the state without the cause, by default ordinary use
        """
        sounding = found.alarms - set(removed) - self.ordinary.alarms - (usual or self.ordinary).alarms
        present = {hazard, *found.hazards}
        return tuple(sorted(code for code in sounding if present & set(FEATURES[code].hazards)))

    def _status(
        self,
        hazard: str,
        whole: Looked,
        preventing: tuple[str, ...],
        usual: Looked | None = None,
        removed: Iterable[str] = (),
    ) -> Status:
        if preventing or hazard not in whole.hazards:
            return Status.STOPPED
        return Status.TOLD if self.told_by(hazard, whole, removed, usual) else Status.OPEN

    def _row(
        self,
        cause: Cause,
        hazard: str,
        status: Status,
        whole: Looked,
        bare: Looked,
        preventing: tuple[str, ...],
        usual: Looked | None = None,
        removed: Iterable[str] = (),
    ) -> CoverRow:
        stopped_by, together = (), False
        if status is Status.STOPPED:
            stopped_by, together = self._stopped_by(cause, hazard, whole, preventing)
        told = () if preventing else self.told_by(hazard, whole, removed, usual)
        noticed = self.protections.noticing(cause) if status is not Status.STOPPED else ()
        explained = Explained(cause, hazard, status, stopped_by, told, together, self.protections, noticed)
        return CoverRow(
            hazard=hazard,
            cause=cause,
            status=status,
            stopped_by=stopped_by,
            told_by=told,
            steps=steps_of(explained, (usual or self.ordinary).seen, whole.seen, bare.seen),
            figures=(self.ordinary if preventing else whole).seen.figures,
            without=bare.seen.figures,
            together=together,
            noticed_by=noticed,
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

    def _is_news(self, cause: Cause, hazard: str, status: Status, occurs: bool) -> bool:
        """Return whether a row adds information to the rows of simpler causes.

        Those are ordinary use; for a fault, the state in which it occurs; for a pair, either of the two causes.
        occurs  the hazard occurs on the machine as it is, if the cause is not prevented
        """
        comes_about = status is not Status.STOPPED
        if self._is_ordinary(cause):
            return True
        if hazard in self.ordinary.hazards or (hazard in self.ordinary_bare.hazards and not occurs):
            return False
        if cause.components_of:
            return all(order_of(status) < order_of(self._standing(code).get(hazard)) for code in cause.components_of)
        if not cause.faults or cause.misleads:
            return True
        before = self.bench.look(cause.state)
        if hazard in before.hazards:
            return False
        return comes_about or hazard not in self.bench.look(cause.state, (), self.taken(cause)).hazards
