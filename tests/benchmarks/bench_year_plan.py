"""Plans of a year at 100, 800 and 5,000 machines: time, gap and growth, beside the earliest due first.

    python -m tests.benchmarks.bench_year_plan [--sizes 100,800,5000]

The baseline takes inspections in order of due date and gives each the first day on which anybody has the minutes, the
least loaded person first. It keeps the same rules and is the simplest plan that somebody would make by hand.
"""

import argparse
import sys
import time
from datetime import date
from math import log

from inspections.planning.year_plan import Placement, YearPlan, objective_of, plan_year
from inspections.planning.year_plan.options import Options
from inspections.planning.year_plan.state import State
from tests.inspections.planning.year_plan.checking import faults, shares
from tests.inspections.planning.year_plan.fleets import make_fleet

MACHINES_PER_TECHNICIAN = 200
SIZES = "100,800,5000"
MOST_SECONDS = 120  # at 800 machines


def main():
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.bench_year_plan")
    parser.add_argument("--sizes", default=SIZES, help="numbers of machines, separated by commas")
    sizes = [int(one) for one in parser.parse_args().sizes.split(",")]
    print(f"{'machines':>8} {'people':>6} {'way':<20} {'seconds':>8} {'unplaced':>8} {'objective':>10} {'gap %':>6}"
          f" {'loads':>13} {'faults':>6}")  # fmt: skip
    seconds, broken = {}, 0
    for machines in sizes:
        problem = make_fleet(machines, max(2, machines // MACHINES_PER_TECHNICIAN), booked=machines // 20)
        for way, make in (("plan", plan_year), ("earliest due first", earliest_due_first)):
            start = time.perf_counter()
            plan = make(problem)
            took = time.perf_counter() - start
            broken += report(problem, plan, way, took)
            if way == "plan":
                seconds[machines] = took
    for small, large in zip(sizes, sizes[1:], strict=False):
        growth = log(seconds[large] / seconds[small]) / log(large / small)
        print(f"growth from {small:,} to {large:,} machines: time rises as machines to the power {growth:.2f}")
    return 1 if broken or seconds.get(800, 0) > MOST_SECONDS else 0


def report(problem, plan, way, took):
    """Print a line. Return the number of rules that the plan breaks."""
    filled, found = shares(problem, plan), faults(problem, plan)
    low, high = 100 * min(filled), 100 * max(filled)
    gap = f"{100 * plan.gap:.1f}" if way == "plan" else ""
    print(f"{len(problem.jobs):>8,} {len(problem.technicians):>6} {way:<20} {took:>8.2f} {len(plan.unplaced):>8}"
          f" {plan.objective:>10.0f} {gap:>6} {low:>5.1f}-{high:.1f} % {len(found):>6}")  # fmt: skip
    return len(found)


def earliest_due_first(problem):
    """Return the baseline. What has no day is left out without a reason."""
    state, left = State(Options(problem)), []
    for number in sorted(range(len(state.jobs)), key=lambda one: (state.jobs[one].due_on, state.jobs[one].key)):
        pairs = list(state.open_pairs(state.jobs[number]))
        if not pairs:
            left.append(number)
            continue
        first = min(day for _, day in pairs)
        technician = min((one for one, day in pairs if day == first), key=lambda one: (state.load[one], one))
        state.place(number, technician, first)
    people = problem.technicians
    placed = tuple(
        Placement(state.jobs[number].key, people[technician].key, date.fromordinal(day))
        for number, (technician, day) in sorted(state.placed.items())
    )
    cost = objective_of(problem, {one.job: (one.technician, one.day) for one in placed})
    return YearPlan(placed, tuple(_Left(state.jobs[number].key) for number in left), cost, 0.0, False)


class _Left:
    """A job that the baseline leaves out."""

    def __init__(self, job):
        self.job = job


if __name__ == "__main__":
    sys.exit(main())
