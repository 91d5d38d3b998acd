"""The smallest objective of a small problem by trying every placement; written from the words of the objective."""

from datetime import timedelta


def smallest_objective(problem):
    """Try for each job every technician and day, and leaving it out. Cut only where the cost cannot fall again."""
    choices = [[*_choices(problem, job), None] for job in problem.jobs]
    return _search(problem, choices, [], float("inf"))


def _choices(problem, job):
    site = next(one for one in problem.sites if one.key == job.site)
    area = next(one for one in problem.areas if one.key == job.area)
    days = (problem.last_day - problem.first_day).days + 1
    for day in (problem.first_day + timedelta(days=number) for number in range(days)):
        if not job.first_day <= day <= job.last_day or day in site.free_days or day in area.closed:
            continue
        for person in problem.technicians:
            is_there = not person.sites or job.site in person.sites
            until = person.skills.get(job.skill, day - timedelta(days=1)) if job.skill else None
            if is_there and (until is None or day <= until):
                yield person, day


def _search(problem, choices, chosen, best):
    cost, fits = _cost(problem, chosen)
    if not fits or cost >= best:
        return best
    if len(chosen) == len(choices):
        return cost + _uneven(problem, chosen) if cost + _uneven(problem, chosen) < best else best
    for choice in choices[len(chosen)]:
        best = _search(problem, choices, [*chosen, choice], best)
    return best


def _cost(problem, chosen):
    """What only grows as more jobs are placed, and whether hours and areas hold."""
    cost, minutes, visits, away = 0.0, {}, set(), {}
    for work in problem.booked:
        minutes[work.technician, work.day] = minutes.get((work.technician, work.day), 0) + work.minutes
        visits.add((work.technician, work.day, work.site))
        away.setdefault((work.area, work.day), set()).add(work.machine)
    spare = {area.key: area.spare for area in problem.areas}
    for job, choice in zip(problem.jobs, chosen, strict=False):
        if choice is None:
            cost += 1000
            continue
        person, day = choice
        minutes[person.key, day] = minutes.get((person.key, day), 0) + job.minutes
        away.setdefault((job.area, day), set()).add(job.machine)
        if minutes[person.key, day] > person.minutes.get(day, 0):
            return 0, False
        if spare[job.area] is not None and len(away[job.area, day]) > spare[job.area]:
            return 0, False
        visits.add((person.key, day, job.site))
        weeks = (_monday(day) - _monday(job.due_on)).days // 7
        cost += 2 * weeks if weeks > 0 else -weeks
    return cost + len(visits), True


def _uneven(problem, chosen):
    load = {one.key: 0 for one in problem.technicians}
    for work in problem.booked:
        load[work.technician] += work.minutes
    for job, choice in zip(problem.jobs, chosen, strict=True):
        if choice:
            load[choice[0].key] += job.minutes
    hours = {one.key: sum(one.minutes.values()) for one in problem.technicians}
    filled = [load[key] / hours[key] for key in load if hours[key]]
    return 10_000 * max(0.0, 0.95 * max(filled) - min(filled))


def _monday(day):
    return day - timedelta(days=day.weekday())
