"""Makes a plan better by moving one job at a time, and makes room for what found none by moving one other."""

from fleet.work_progress import Tell, tell_nobody
from inspections.planning.year_plan.state import WORTH, State

PASSES = 3


def improve(state: State, tell: Tell = tell_nobody):
    """Make room for unplaced jobs, then move jobs while the objective falls, PASSES times at most. Deterministic."""
    total = PASSES * len(state.jobs)
    make_room(state)
    for number in range(PASSES):
        moved = 0
        for done, job in enumerate(range(len(state.jobs))):
            if done % 50 == 0:
                tell(number * len(state.jobs) + done, total, "Improving the plan")
            moved += job in state.placed and _moved(state, job)
        if not moved:
            break
    make_room(state)


def _moved(state, number):
    """Move a job to the cheapest place; return whether it moved."""
    job = state.jobs[number]
    technician, day = state.remove(number)
    here = state.best_pair(job, [(technician, day)])
    best = state.best_pair(job, state.open_pairs(job))
    is_better = best[0] < here[0] - WORTH or (best[0] < here[0] + WORTH and best[1] < here[1] - WORTH)
    if not is_better:
        state.place(number, technician, day)
        return False
    state.place(number, best[3], best[2])
    return True


def make_room(state: State):
    """Place what has no place by moving one other job out of its way."""
    for number in range(len(state.jobs)):
        if number not in state.placed:
            _place_or_displace(state, number)


def _place_or_displace(state, number):
    job = state.jobs[number]
    best = state.best_pair(job, state.open_pairs(job))
    if best:
        state.place(number, best[3], best[2])
        return
    for technician, day in state.options.pairs(job):
        for other in sorted(_in_the_way(state, job, technician, day)):
            if _displaced(state, number, other, technician, day):
                return


def _in_the_way(state, job, technician, day):
    """The jobs whose removal could let this one in: of the technician that day, or of the area."""
    if state.has_room(job, day):
        return state.at.get((technician, day), ())
    machines = state.away[job.area, day]
    there = [
        one
        for number in range(len(state.hours))
        for one in state.at.get((number, day), ())
        if state.jobs[one].area == job.area
    ]
    return [one for one in there if machines[state.jobs[one].machine] == 1]


def _displaced(state, number, other, technician, day):
    job, moved = state.jobs[number], state.jobs[other]
    was = state.remove(other)
    if state.has_room(job, day) and state.left[technician].get(day, 0) >= job.minutes:
        state.place(number, technician, day)
        best = state.best_pair(moved, state.open_pairs(moved))
        if best:
            state.place(other, best[3], best[2])
            return True
        state.remove(number)
    state.place(other, *was)
    return False
