"""Solved states of one circuit, each solved once."""

from collections.abc import Iterable

from fleet.circuit.hazards import hazards_seen
from fleet.circuit.parts import Circuit
from fleet.circuit.seen import Seen
from fleet.circuit.solution import NoSolution, Solution
from fleet.circuit.solver import solve
from fleet.circuit.state import Fault, State


class Looked:
    """One solved state with what it does to the patient and the hazards in it."""

    def __init__(self, solution: Solution):
        self.solution = solution
        self.seen = Seen(solution)
        self.hazards = hazards_seen(self.seen)

    def telling(self, hazard_features: Iterable[str]) -> tuple[str, ...]:
        """Return which of these features tell of something here, in order."""
        telling = {told.feature for told in self.solution.told if told.feature}
        return tuple(sorted(telling & set(hazard_features)))


class Bench:
    """Solves states of one circuit, keeps what it solved, and starts each from one that is near."""

    def __init__(self, circuit: Circuit):
        self.circuit = circuit
        self.solves = 0
        self._kept: dict[tuple, Looked | NoSolution] = {}
        self._starts: dict[frozenset[str], Solution] = {}

    def look(self, state: State, faults: tuple[Fault, ...] = (), removed: Iterable[str] = ()) -> Looked:
        """Return the solved state. Raises NoSolution, also when it was asked for before."""
        taken = frozenset(removed)
        key = (_key(state), frozenset(faults), taken)
        if key not in self._kept:
            self._kept[key] = self._solved(state, faults, taken)
        found = self._kept[key]
        if isinstance(found, NoSolution):
            raise found
        return found

    def _solved(self, state, faults, taken) -> Looked | NoSolution:
        start = self._starts.get(taken) or self._starts.get(frozenset())
        self.solves += 1
        try:
            solution = solve(self.circuit, state, faults, taken, start=start)
        except NoSolution as error:
            return error
        self._starts.setdefault(taken, solution)
        return Looked(solution)


def _key(state: State) -> tuple:
    settings = frozenset((part, frozenset(values.items())) for part, values in state.settings.items())
    return settings, state.cut, state.made
