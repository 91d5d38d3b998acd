"""The cover table cause by cause, each state solved by itself as it is asked for."""

from contextlib import contextmanager, nullcontext
from unittest.mock import patch

from fleet.circuit import solved_states
from fleet.circuit.closing import closing_sets
from fleet.circuit.cover import cover_table
from fleet.circuit.effects import Seen
from fleet.circuit.solution import NoSolution
from fleet.circuit.solved_states import Looked
from tests.fleet.circuit.oracle.solver import solve

WORST_IMBALANCE = 1e-6


class Bench:
    """Stands for the bench of the program; each search starts from a similar solution."""

    def __init__(self, circuit, lender=None, near=None):
        self.circuit, self.lender = circuit, lender
        self.kept, self.starts, self.alike = {}, {}, {}

    def look(self, state, faults=(), removed=()):
        taken = frozenset(removed)
        key = (solved_states.key_of(state), frozenset(faults), taken)
        if key not in self.kept:
            self.kept[key] = self._solved(state, faults, taken)
        if isinstance(self.kept[key], NoSolution):
            raise self.kept[key]
        return self.kept[key]

    def prepare(self, asked):
        """Solve nothing ahead."""

    def _solved(self, state, faults, taken):
        use = (solved_states.key_of(state), taken)
        start = self.alike.get(use) or self.starts.get(taken) or self.starts.get(frozenset())
        try:
            solution = self._balanced(state, faults, taken, start)
        except NoSolution as error:
            return error
        self.starts.setdefault(taken, solution)
        self.alike.setdefault(use, solution)
        return Looked(Seen(solution))

    def _balanced(self, state, faults, taken, start):
        try:
            return solve(self.circuit, state, faults, taken, start=start)
        except NoSolution:
            if start is None:
                raise
        return solve(self.circuit, state, faults, taken)


@contextmanager
def one_by_one():
    """Within this, cover tables and closing sets are computed by the oracle, and Python collects cycles as it does."""
    with (
        patch("fleet.circuit.cover.no_collection", nullcontext),
        patch("fleet.circuit.closing.no_collection", nullcontext),
        patch("fleet.circuit.cover_sheet.Bench", Bench),
        patch("fleet.circuit.closing.Bench", Bench),
        patch("fleet.circuit.closing.prepare_together", list),
    ):
        yield


def oracle_table(circuit, **options):
    with one_by_one():
        return cover_table(circuit, **options)


def oracle_closing(circuit, table):
    with one_by_one():
        return closing_sets(circuit, table)
