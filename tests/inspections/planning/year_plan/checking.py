"""Checks a plan against every hard rule, from the rows of the problem alone: nothing of the planner is used."""

from collections import defaultdict


def faults(problem, plan):
    """Return a sentence for each rule that the plan breaks."""
    jobs = {job.key: job for job in problem.jobs}
    people = {one.key: one for one in problem.technicians}
    found, minutes, away = [], defaultdict(int), defaultdict(set)
    for work in problem.booked:
        minutes[work.technician, work.day] += work.minutes
        away[work.area, work.day].add(work.machine)
    booked_only = dict(minutes)
    done = [one.job for one in plan.placements] + [one.job for one in plan.unplaced]
    if sorted(done) != sorted(jobs):
        found.append("a job is missing, or is there twice")
    for one in plan.placements:
        job = jobs[one.job]
        minutes[one.technician, one.day] += job.minutes
        away[job.area, one.day].add(job.machine)
        found += [f"{job.key}: {words}" for words in _faults_of(problem, job, people[one.technician], one.day)]
    for (key, day), total in minutes.items():
        if total > people[key].minutes.get(day, 0) and total != booked_only.get((key, day)):
            found.append(f"{people[key].name} has {total} minutes on {day}")
    return found + _faults_of_areas(problem, plan, away)


def _faults_of(problem, job, person, day):
    site = next(one for one in problem.sites if one.key == job.site)
    area = next(one for one in problem.areas if one.key == job.area)
    if not (problem.first_day <= day <= problem.last_day and job.first_day <= day <= job.last_day):
        yield "outside its window"
    if day in site.free_days:
        yield "on a free day"
    if day in area.closed:
        yield "on a closing day of the area"
    if person.sites and job.site not in person.sites:
        yield "by somebody of another site"
    if job.skill and (job.skill not in person.skills or (person.skills[job.skill] or day) < day):
        yield "by somebody who is not competent"
    if person.minutes.get(day, 0) == 0:
        yield "on a day without hours"
    for dimension in job.instruments if site.instruments is not None else ():
        if not any(span.first <= day <= span.last for span in site.instruments.get(dimension, ())):
            yield f"without an instrument for {dimension}"


def _faults_of_areas(problem, plan, away):
    """An area that booked work alone leaves short may not lose one more."""
    areas = {area.key: area for area in problem.areas}
    planned = {(next(j.area for j in problem.jobs if j.key == one.job), one.day) for one in plan.placements}
    return [
        f"{areas[area].name} spares {len(machines)} machines on {day}"
        for (area, day), machines in away.items()
        if areas[area].spare is not None and len(machines) > areas[area].spare and (area, day) in planned
    ]


def shares(problem, plan):
    """The share of the hours of each technician that is filled, with what is booked."""
    jobs = {job.key: job for job in problem.jobs}
    load = defaultdict(int)
    for work in problem.booked:
        load[work.technician] += work.minutes
    for one in plan.placements:
        load[one.technician] += jobs[one.job].minutes
    return [load[one.key] / sum(one.minutes.values()) for one in problem.technicians if sum(one.minutes.values())]
