"""Solves states of one circuit, each only once."""

from collections.abc import Iterable
from dataclasses import replace

from fleet.circuit.effects import Seen, heard
from fleet.circuit.elements import element_for
from fleet.circuit.elements.base import Condition
from fleet.circuit.hazards import hazards_seen
from fleet.circuit.solution import NoSolution, Solution
from fleet.circuit.solver import solve
from fleet.circuit.state import Fault, State
from fleet.circuit.structure import Circuit

WORST_IMBALANCE = 1e-6  # of the largest flow; a worse balance is refused as an answer


class Looked:
    """One solved state, with its effect on the patient and its hazards."""

    def __init__(self, solution: Solution):
        self.solution = solution
        self.seen = Seen(solution)
        self.hazards = hazards_seen(self.seen)

    def telling(self, hazard_features: Iterable[str]) -> tuple[str, ...]:
        """Return which of these features alarm in this state, in order."""
        telling = {told.feature for told in self.solution.told if told.feature}
        return tuple(sorted(telling & set(hazard_features)))


class Bench:
    """Solves states of one circuit, stores the solutions, and starts each search from a similar one."""

    def __init__(self, circuit: Circuit, lender: "Bench | None" = None):
        self.circuit, self.lender = circuit, lender
        self.solves = 0
        self._kept: dict[tuple, Looked | NoSolution] = {}
        self._starts: dict[frozenset[str], Solution] = {}

    def look(self, state: State, faults: tuple[Fault, ...] = (), removed: Iterable[str] = ()) -> Looked:
        """Return the solved state. Raises NoSolution, on a repeated request too."""
        taken = frozenset(removed)
        key = (_key(state), frozenset(faults), taken)
        if key not in self._kept:
            self._kept[key] = self._solved(state, faults, taken)
        found = self._kept[key]
        if isinstance(found, NoSolution):
            raise found
        return found

    def _solved(self, state, faults, taken) -> Looked | NoSolution:
        if self.lender:
            try:
                return Looked(with_tellers(self.lender.look(state, faults, taken).solution, self.circuit))
            except NoSolution as error:
                return error
        self.solves += 1
        start = self._starts.get(taken) or self._starts.get(frozenset())
        try:
            solution = self._balanced(state, faults, taken, start)
        except NoSolution as error:
            return error
        self._starts.setdefault(taken, solution)
        return Looked(solution)

    def _balanced(self, state, faults, taken, start) -> Solution:
        """Return a solution whose flows balance; starts again from scratch if the similar start fails."""
        try:
            solution = solve(self.circuit, state, faults, taken, start=start)
            if solution.imbalance <= WORST_IMBALANCE:
                return solution
        except NoSolution:
            if start is None:
                raise
        solution = solve(self.circuit, state, faults, taken)
        if solution.imbalance > WORST_IMBALANCE:
            raise NoSolution(f"The flows do not balance: the difference is {solution.imbalance:.1g} of the largest.")
        return solution


def with_tellers(solution: Solution, circuit: Circuit) -> Solution:
    """Return the solution of a circuit with additional components that take no gas and only alarm, such as monitors."""
    if circuit is solution.circuit:
        return solution
    known = {component.code for component in solution.circuit.components}
    added = [component for component in circuit.components if component.code not in known]
    ends = {connection.target: connection.source for connection in circuit.connections if connection.target.component not in known}
    more = replace(
        solution,
        circuit=circuit,
        pressures_pa_abs={
            **solution.pressures_pa_abs,
            **{end: solution.pressures_pa_abs[start] for end, start in ends.items()},
        },
        mixes={**solution.mixes, **{end: solution.mixes[start] for end, start in ends.items()}},
    )
    condition = Condition(ambient_pa_abs=circuit.ambient_pa_abs)
    told = heard((element_for(component, condition) for component in added), more)
    return replace(more, told=(*solution.told, *told))


def _key(state: State) -> tuple:
    settings = frozenset((component, frozenset(values.items())) for component, values in state.settings.items())
    return settings, state.cut, state.made
