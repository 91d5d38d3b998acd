"""Solves states of one circuit, each only once."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from fleet.circuit.effects import Seen, heard
from fleet.circuit.elements import element_for
from fleet.circuit.elements.base import Condition
from fleet.circuit.hazards import hazards_seen
from fleet.circuit.once import once
from fleet.circuit.solution import NoSolution, Solution
from fleet.circuit.solver import Asked, solve_together, workshop_of
from fleet.circuit.state import Fault, State
from fleet.circuit.structure import Circuit

Wanted = tuple[State, tuple[Fault, ...], frozenset[str]]  # a state, its faults, the features removed


class Looked:
    """One solved state, with its effect on the patient and its hazards."""

    def __init__(self, seen: Seen):
        self.solution, self.seen = seen.solution, seen
        self.hazards = hazards_seen(seen)

    def telling(self, hazard_features: Iterable[str]) -> tuple[str, ...]:
        """Return which of these features alarm in this state, in order."""
        return tuple(sorted(self.alarms & set(hazard_features)))

    @once
    def alarms(self) -> frozenset[str]:
        """The features that alarm in this state."""
        return frozenset(told.feature for told in self.solution.told if told.feature)


class Bench:
    """Solves states of one circuit, stores the solutions, and starts each search from a similar one.

    lender  bench of a circuit from which this one differs at most by components that only alarm: it solves the states
    near    bench of a circuit much like this one: searches start from its solutions, and both can be asked together
    """

    def __init__(self, circuit: Circuit, lender: "Bench | None" = None, near: "Bench | None" = None):
        self.circuit, self.lender, self.near = circuit, lender, near
        self.solves = 0
        self.workshop = workshop_of(circuit, book=near.workshop.book if near else None)
        self._kept: dict[tuple, Looked | NoSolution] = {}
        self._alike: dict[tuple, list[tuple[frozenset[str], Solution]]] = {}  # by state and faults, with the removal
        self._keys: dict[int, tuple[State, tuple]] = {}

    def look(self, state: State, faults: tuple[Fault, ...] = (), removed: Iterable[str] = ()) -> Looked:
        """Return the solved state. Raises NoSolution, on a repeated request too."""
        key = self._key(state, faults, frozenset(removed))
        if key not in self._kept:
            self.prepare([(state, faults, frozenset(removed))])
        found = self._kept[key]
        if isinstance(found, NoSolution):
            raise found
        return found

    def prepare(self, wanted: Iterable[Wanted]) -> None:
        """Solve these states at once, as far as they are not yet known."""
        prepare_together([(self, wanted)])

    def unknown(self, wanted: Iterable[Wanted]) -> dict[tuple, Wanted]:
        """Return those of these states that are not yet solved, by key."""
        waiting = {self._key(*each): each for each in wanted}
        return {key: each for key, each in waiting.items() if key not in self._kept}

    def borrow(self, waiting: Mapping[tuple, Wanted]) -> None:
        """Take over what the lender has solved."""
        self._kept.update({key: self._lent(*each) for key, each in waiting.items()})

    def asked(self, waiting: Mapping[tuple, Wanted]) -> list[Asked]:
        """Return what the solver is asked for."""
        self.solves += len(waiting)
        return [Asked(*each, self._start(key)) for key, each in waiting.items()]

    def keep(self, waiting: Iterable[tuple], solved: Iterable[Seen | NoSolution]) -> None:
        """Store what was solved, in the order of the keys."""
        for key, found in zip(waiting, solved, strict=True):
            if isinstance(found, Seen):
                self._alike.setdefault(key[:2], []).append((key[2], found.solution))
            self._kept[key] = Looked(found) if isinstance(found, Seen) else found

    def _lent(self, state: State, faults: tuple[Fault, ...], taken: frozenset[str]) -> Looked | NoSolution:
        try:
            return Looked(Seen(with_tellers(self.lender.look(state, faults, taken).solution, self.circuit)))
        except NoSolution as error:
            return error

    def _start(self, key: tuple) -> Solution | None:
        """Return a similar solution: of the same state and faults, else of that state, else the first of all.

        Of several the one with the most similar removal.
        """
        found = self._alike_to(key) or (self.near._alike_to(key) if self.near else ())
        found = found or next(iter(self._alike.values()), ())
        return min(found, key=lambda other: len(other[0] ^ key[2]), default=(None, None))[1]

    def _alike_to(self, key: tuple) -> Sequence[tuple[frozenset[str], Solution]]:
        return self._alike.get(key[:2]) or self._alike.get((key[0], frozenset())) or ()

    def _key(self, state: State, faults: Iterable[Fault], taken: frozenset[str]) -> tuple:
        known = self._keys.get(id(state))
        if known is None:
            known = self._keys[id(state)] = (state, key_of(state))
        return known[1], frozenset(faults), taken


def prepare_together(wanted: Iterable[tuple[Bench, Iterable[Wanted]]]) -> None:
    """Solve at once states of several circuits, each `near` the same one, as far as they are not yet known."""
    waiting = [(bench, bench.unknown(states)) for bench, states in wanted]
    lent = [(bench, states) for bench, states in waiting if bench.lender]
    for bench, states in lent:
        bench.lender.prepare(states.values())
        bench.borrow(states)
    own = [(bench, states) for bench, states in waiting if not bench.lender and states]
    solved = solve_together([(bench.workshop, bench.asked(states)) for bench, states in own])
    for (bench, states), found in zip(own, solved, strict=True):
        bench.keep(states, found)


def with_tellers(solution: Solution, circuit: Circuit) -> Solution:
    """Return the solution of a circuit with additional components that take no gas and only alarm, such as monitors."""
    if circuit is solution.circuit:
        return solution
    known = {component.code for component in solution.circuit.components}
    added = [component for component in circuit.components if component.code not in known]
    ends = {
        connection.target: connection.source
        for connection in circuit.connections
        if connection.target.component not in known
    }
    more = replace(
        solution,
        circuit=circuit,
        pressures_pa_abs=solution.pressures_pa_abs.also_at(ends),
        mixes=solution.mixes.also_at(ends),
    )
    condition = Condition(ambient_pa_abs=circuit.ambient_pa_abs)
    told = heard((element_for(component, condition) for component in added), Seen(more))
    return replace(more, told=(*solution.told, *told))


def key_of(state: State) -> tuple:
    """Return what tells states apart that differ in what is set, open or connected."""
    settings = frozenset((component, frozenset(values.items())) for component, values in state.settings.items())
    return settings, state.cut, state.made
