"""A plan in the making: who has which minutes left, which machines are away, and what each change would cost."""

from collections import Counter, defaultdict

from inspections.planning.year_plan.inputs import Job
from inspections.planning.year_plan.objective import UNPLACED, VISIT, unevenness, weeks_cost
from inspections.planning.year_plan.options import Options

WORTH = 1e-9  # a change of the objective below this is none


class State:
    """Placements with everything that limits further ones. Jobs and technicians are named by position."""

    def __init__(self, options: Options):
        self.options, self.jobs = options, options.problem.jobs
        self.placed: dict[int, tuple[int, int]] = {}
        self.left = [dict(minutes) for minutes in options.minutes]
        self.hours = [sum(minutes.values()) for minutes in options.minutes]
        self.load = [0] * len(self.hours)
        self.away = defaultdict(Counter)  # (area, day) -> machines with their numbers of inspections
        self.visits = defaultdict(Counter)  # (technician, day) -> sites with their numbers of inspections
        self.at = defaultdict(set)  # (technician, day) -> jobs placed there
        self._take_booked(options.problem)

    def _take_booked(self, problem):
        numbers = {one.key: number for number, one in enumerate(problem.technicians)}
        for work in problem.booked:
            day = work.day.toordinal()
            self.away[work.area, day][work.machine] += 1
            if work.technician in numbers:
                self._take(numbers[work.technician], day, work.minutes, work.site, 1)

    def _take(self, technician, day, minutes, site, sign):
        if day in self.left[technician]:
            self.left[technician][day] -= sign * minutes
        self.load[technician] += sign * minutes
        sites = self.visits[technician, day]
        sites[site] += sign
        if not sites[site]:
            del sites[site]

    def place(self, number: int, technician: int, day: int):
        job = self.jobs[number]
        self.placed[number] = (technician, day)
        self.at[technician, day].add(number)
        self.away[job.area, day][job.machine] += 1
        self._take(technician, day, job.minutes, job.site, 1)

    def remove(self, number: int) -> tuple[int, int]:
        job, (technician, day) = self.jobs[number], self.placed.pop(number)
        self.at[technician, day].discard(number)
        machines = self.away[job.area, day]
        machines[job.machine] -= 1
        if not machines[job.machine]:
            del machines[job.machine]
        self._take(technician, day, job.minutes, job.site, -1)
        return technician, day

    def has_room(self, job: Job, day: int) -> bool:
        """Whether the area can spare the machine of the job on a day."""
        spare = self.options.areas[job.area].spare
        if spare is None:
            return True
        machines = self.away.get((job.area, day), ())
        return job.machine in machines or len(machines) < spare

    def open_pairs(self, job: Job, days=None):
        """Yield the (technician, day) at which the job can be placed now."""
        chosen = self.options.days(job) if days is None else days
        roomy = [day for day in chosen if self.has_room(job, day)]
        for technician, until in self.options.able(job):
            left = self.left[technician]
            for day in roomy:
                if day <= until and left.get(day, 0) >= job.minutes:
                    yield technician, day

    def shares(self):
        return [load / hours for load, hours in zip(self.load, self.hours, strict=True) if hours]

    def cost(self) -> float:
        """Return the objective, as `objective_of` does."""
        weeks = sum(weeks_cost(self.jobs[n].due_on.toordinal(), day) for n, (_, day) in self.placed.items())
        visits = sum(len(sites) for sites in self.visits.values())
        unplaced = len(self.jobs) - len(self.placed)
        return UNPLACED * unplaced + weeks + VISIT * visits + unevenness(self.shares(), self.options.problem.uneven)

    def evenness_with(self, job: Job) -> list[tuple[float, float]]:
        """Return for each technician what unevenness and sum of squares of shares would be with the job."""
        found = []
        for technician, hours in enumerate(self.hours):
            if not hours:
                found.append((0.0, 0.0))
                continue
            self.load[technician] += job.minutes
            shares = self.shares()
            self.load[technician] -= job.minutes
            found.append((unevenness(shares, self.options.problem.uneven), sum(share * share for share in shares)))
        return found

    def best_pair(self, job: Job, pairs):
        """Return (cost, squares, day, technician) of the cheapest of the pairs, None without any."""
        evenness, due, best = self.evenness_with(job), job.due_on.toordinal(), None
        for technician, day in pairs:
            uneven, squares = evenness[technician]
            visit = 0.0 if job.site in self.visits.get((technician, day), ()) else VISIT
            found = (round(uneven + visit + weeks_cost(due, day), 9), squares, day, technician)
            if best is None or found < best:
                best = found
        return best
