"""What is wished of a plan beyond its hard rules, as one number; the smaller the better.

The weights are this program's own choice (common practice, no source): every inspection placed comes first, then loads
that are even, then days near the due date and few journeys.
"""

from collections.abc import Iterable
from datetime import date

UNPLACED = 1000.0  # for each inspection without a day
WEEK_EARLY, WEEK_LATE = 1.0, 2.0  # for each calendar week before and after that of the due date
VISIT = 1.0  # for each site that a technician visits on a day
UNEVEN = 10_000.0  # for each unit of load share that the least loaded lacks beyond FAIR_WITHIN, over a year
UNEVEN_SOON = 100.0  # the same where some bookings move at once: near days come first, loads level out later
FAIR_WITHIN = 0.05  # of the highest share of hours that is filled


def weeks_cost(due: int, day: int) -> float:
    """Return the cost of doing on `day` what is due on `due`; both are ordinals of days (Monday is 1 modulo 7)."""
    weeks = (day - 1) // 7 - (due - 1) // 7
    return WEEK_LATE * weeks if weeks > 0 else -WEEK_EARLY * weeks


def unevenness(shares: Iterable[float], weight: float = UNEVEN) -> float:
    """Return the cost of the loads as shares of the hours of each technician with any."""
    shares = list(shares)
    return weight * max(0.0, (1 - FAIR_WITHIN) * max(shares) - min(shares)) if shares else 0.0


def objective_of(problem, placed: dict[int, tuple[int, date]]) -> float:
    """Return the objective of a plan: `placed` maps keys of jobs to the key of a technician and a day."""
    jobs = {job.key: job for job in problem.jobs}
    load = {one.key: 0 for one in problem.technicians}
    visits = set()
    for work in problem.booked:
        if work.technician in load:
            load[work.technician] += work.minutes
            visits.add((work.technician, work.day, work.site))
    cost = UNPLACED * (len(jobs) - len(placed))
    for key, (technician, day) in placed.items():
        load[technician] += jobs[key].minutes
        visits.add((technician, day, jobs[key].site))
        cost += weeks_cost(jobs[key].due_on.toordinal(), day.toordinal())
    hours = {one.key: hours_in(problem, one) for one in problem.technicians}
    return (
        cost + VISIT * len(visits) + unevenness((load[key] / hours[key] for key in load if hours[key]), problem.uneven)
    )


def hours_in(problem, technician) -> int:
    """Return the working minutes of a technician within the plan."""
    return sum(m for day, m in technician.minutes.items() if problem.first_day <= day <= problem.last_day)
