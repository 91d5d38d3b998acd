"""On which days, and by whom, each job can be done at all, before other work is looked at."""

from datetime import date

from inspections.planning.year_plan.inputs import Job, Problem


class Options:
    """The days and technicians of jobs. Days are ordinals, technicians positions in `problem.technicians`."""

    def __init__(self, problem: Problem):
        self.problem = problem
        self.first, self.last = problem.first_day.toordinal(), problem.last_day.toordinal()
        self.areas = {area.key: area for area in problem.areas}
        self.sites = {site.key: site for site in problem.sites}
        self.minutes = [self._within(one.minutes) for one in problem.technicians]
        self._days, self._able = {}, {}

    def _within(self, minutes):
        by_day = {day.toordinal(): number for day, number in minutes.items() if number > 0}
        return {day: by_day[day] for day in sorted(by_day) if self.first <= day <= self.last}

    def days(self, job: Job) -> tuple[int, ...]:
        """Return the days in the window on which the site works, the area is open and instruments are there."""
        key = (job.site, job.area, job.first_day, job.last_day, job.instruments)
        if key not in self._days:
            self._days[key] = tuple(self._open_days(job))
        return self._days[key]

    def _open_days(self, job):
        site, closed = self.sites[job.site], self.areas[job.area].closed
        for day in self.window(job):
            if day not in site.free_days and day not in closed and site.can_measure(job.instruments, day):
                yield day.toordinal()

    def window(self, job: Job):
        """Return the dates of the window that lie within the plan."""
        first = max(job.first_day.toordinal(), self.first)
        last = min(job.last_day.toordinal(), self.last)
        return [date.fromordinal(day) for day in range(first, last + 1)]

    def able(self, job: Job) -> tuple[tuple[int, int], ...]:
        """Return the technicians who work at the site and are competent, each with the last day of that."""
        key = (job.site, job.skill)
        if key not in self._able:
            self._able[key] = tuple(self._competent(job))
        return self._able[key]

    def _competent(self, job):
        for number, one in enumerate(self.problem.technicians):
            if not one.works_at(job.site) or (job.skill and job.skill not in one.skills):
                continue
            until = one.skills.get(job.skill) if job.skill else None
            yield number, until.toordinal() if until else self.last

    def pairs(self, job: Job):
        """Yield (technician, day) on which the technician has at least the minutes of the job."""
        days = self.days(job)
        for number, until in self.able(job):
            minutes = self.minutes[number]
            for day in days:
                if day <= until and minutes.get(day, 0) >= job.minutes:
                    yield number, day
