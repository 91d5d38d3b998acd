"""Solves a small problem exactly, as one mixed-integer programme over jobs, technicians and days."""

from collections import defaultdict

from fleet.late import np, optimize, sparse
from inspections.planning.year_plan.objective import FAIR_WITHIN, UNPLACED, VISIT, weeks_cost
from inspections.planning.year_plan.state import State

MOST_PAIRS = 250  # (job, technician, day) above which the problem is solved by weeks
SOLVED = 0  # of scipy.optimize.milp
MOST_NODES = 300  # of the search, after which it is solved by weeks too; a count, so that every run ends alike


def is_small(state: State) -> bool:
    """Whether the problem has few enough places for each of its jobs together."""
    pairs = 0
    for job in state.jobs:
        pairs += sum(1 for _ in state.options.pairs(job))
        if pairs > MOST_PAIRS:
            return False
    return True


def place_exactly(state: State) -> float | None:
    """Place the jobs as well as is possible. Return the bound of the objective, None if MOST_NODES did not do."""
    model = _Model(state)
    found = model.solve()
    if found.x is None or found.status != SOLVED:
        return None
    for (number, technician, day), column in model.places.items():
        if found.x[column] > 0.5:
            state.place(number, technician, day)
    return float(found.mip_dual_bound) + model.constant


class _Model:
    def __init__(self, state: State):
        self.state, self.costs, self.uppers, self.whole = state, [], [], []
        self.rows, self.lows, self.highs = [], [], []
        self.places = {}
        self.constant = VISIT * sum(len(sites) for sites in state.visits.values())
        for number, job in enumerate(state.jobs):
            self._add_job(number, job)
        self._keep_minutes()
        self._count_visits()
        self._keep_areas()
        self._even()

    def _add_job(self, number, job):
        due, terms = job.due_on.toordinal(), [(self._column(UNPLACED), 1.0)]
        for technician, day in self.state.options.pairs(job):
            column = self.places[number, technician, day] = self._column(weeks_cost(due, day))
            terms.append((column, 1.0))
        self._row(terms, 1.0, 1.0)

    def _grouped(self, key_of):
        found = defaultdict(list)
        for (number, technician, day), column in self.places.items():
            found[key_of(self.state.jobs[number], technician, day)].append((number, column))
        return found

    def _keep_minutes(self):
        for (technician, day), taken in self._grouped(lambda job, technician, day: (technician, day)).items():
            terms = [(column, float(self.state.jobs[number].minutes)) for number, column in taken]
            self._row(terms, -np.inf, max(0, self.state.left[technician][day]))

    def _count_visits(self):
        grouped = self._grouped(lambda job, technician, day: (technician, day, job.site))
        for (technician, day, site), taken in grouped.items():
            if site in self.state.visits.get((technician, day), ()):
                continue
            visit = self._column(VISIT)
            for _, column in taken:
                self._row([(visit, 1.0), (column, -1.0)], 0.0, np.inf)

    def _keep_areas(self):
        """Count machines away, not inspections: two of one machine on one day take it once."""
        away = defaultdict(list)
        grouped = self._grouped(lambda job, technician, day: (job.area, day, job.machine))
        for (area, day, machine), taken in grouped.items():
            if self.state.options.areas[area].spare is None or machine in self.state.away.get((area, day), ()):
                continue
            is_away = self._column(0.0)
            away[area, day].append((is_away, 1.0))
            for _, column in taken:
                self._row([(is_away, 1.0), (column, -1.0)], 0.0, np.inf)
        for (area, day), terms in away.items():
            spare = self.state.options.areas[area].spare - len(self.state.away.get((area, day), ()))
            self._row(terms, -np.inf, max(0, spare))

    def _even(self):
        high, low = (self._column(0.0, np.inf, whole=0) for _ in range(2))
        excess = self._column(self.state.options.problem.uneven, np.inf, whole=0)
        taken = self._grouped(lambda job, technician, day: technician)
        for technician, hours in enumerate(self.state.hours):
            if not hours:
                continue
            terms = [(column, self.state.jobs[number].minutes / hours) for number, column in taken.get(technician, ())]
            booked = self.state.load[technician] / hours
            self._row([*terms, (high, -1.0)], -np.inf, -booked)
            self._row([*terms, (low, -1.0)], -booked, np.inf)
        self._row([(high, 1 - FAIR_WITHIN), (low, -1.0), (excess, -1.0)], -np.inf, 0.0)

    def _column(self, cost, upper=1.0, *, whole=1):
        self.costs.append(cost)
        self.uppers.append(upper)
        self.whole.append(whole)
        return len(self.costs) - 1

    def _row(self, terms, low, high):
        self.rows.append(terms)
        self.lows.append(low)
        self.highs.append(high)

    def solve(self):
        entries = [(row, column, value) for row, terms in enumerate(self.rows) for column, value in terms]
        row, column, value = (np.array(part) for part in zip(*entries, strict=True))
        matrix = sparse.coo_array((value, (row, column)), shape=(len(self.rows), len(self.costs))).tocsr()
        limits = optimize.LinearConstraint(matrix, self.lows, self.highs)
        return optimize.milp(
            self.costs,
            constraints=limits,
            bounds=optimize.Bounds(0, self.uppers),
            integrality=self.whole,
            options={"mip_rel_gap": 0.0, "node_limit": MOST_NODES},
        )
