"""Places each job on a technician and a day: first in its week, then wherever its window leaves room."""

from fleet.work_progress import Tell, tell_nobody
from inspections.planning.year_plan.state import State
from inspections.planning.year_plan.weekly import week_of


def place_by_weeks(state: State, targets: dict[int, int | None], tell: Tell = tell_nobody):
    """Place jobs week by week, the hardest to place first; what finds no room follows, earliest due first."""
    order = sorted(targets, key=lambda number: _hardest_first(state, targets, number))
    waiting = []
    for done, number in enumerate(order):
        if done % 50 == 0:
            tell(done, len(order), "Placing inspections on days")
        job, week = state.jobs[number], targets[number]
        days = [day for day in state.options.days(job) if week is not None and week_of(day) == week]
        if not _place(state, number, state.open_pairs(job, days)):
            waiting.append(number)
    for number in sorted(waiting, key=lambda one: (state.jobs[one].due_on, state.jobs[one].key)):
        _place(state, number, state.open_pairs(state.jobs[number]))


def _hardest_first(state, targets, number):
    job, week = state.jobs[number], targets[number]
    able = len(state.options.able(job))
    return (week is None, week or 0, able, -job.minutes, job.site, job.area, job.due_on, job.key)


def _place(state, number, pairs):
    best = state.best_pair(state.jobs[number], pairs)
    if best is None:
        return False
    _, _, day, technician = best
    state.place(number, technician, day)
    return True
