"""What a plan is made from, as frozen rows. Keys are numbers of the caller; days are dates of the sites."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from inspections.planning.year_plan.objective import UNEVEN


@dataclass(frozen=True, slots=True)
class Span:
    """Days from `first` to `last`, both included."""

    first: date
    last: date

    def holds(self, day: date) -> bool:
        return self.first <= day <= self.last


@dataclass(frozen=True, slots=True)
class Job:
    """One inspection to be placed.

    minutes              work at the bench, > 0
    first_day, last_day  the days on which it may be done
    due_on               the day from which weeks early and late count
    skill                what a technician must be competent for; empty where nobody has to be
    instruments          dimensions that an instrument of the site must measure
    """

    key: int
    machine: int
    area: int
    site: int
    minutes: int
    first_day: date
    last_day: date
    due_on: date
    skill: str = ""
    instruments: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Technician:
    """Somebody who can be given work.

    minutes  working minutes by day; a day that is missing has none
    sites    keys of the sites; empty means every site
    skills   the last day of each competence; None for one without an end
    """

    key: int
    name: str
    minutes: Mapping[date, int]
    sites: frozenset[int] = frozenset()
    skills: Mapping[str, date | None] = field(default_factory=dict)

    def works_at(self, site: int) -> bool:
        return not self.sites or site in self.sites

    def is_competent(self, skill: str, day: date) -> bool:
        if not skill:
            return True
        return skill in self.skills and (self.skills[skill] is None or day <= self.skills[skill])


@dataclass(frozen=True, slots=True)
class AreaRoom:
    """An area. `spare` machines can be away at once, None for any number; on `closed` days none can be taken."""

    key: int
    name: str
    spare: int | None = None
    closed: frozenset[date] = frozenset()


@dataclass(frozen=True, slots=True)
class SiteDays:
    """A site: days without work, and when each dimension can be measured. `instruments` None asks for no instrument."""

    key: int
    name: str
    free_days: frozenset[date] = frozenset()
    instruments: Mapping[str, tuple[Span, ...]] | None = None

    def can_measure(self, dimensions: frozenset[str], day: date) -> bool:
        if self.instruments is None:
            return True
        return all(any(span.holds(day) for span in self.instruments.get(one, ())) for one in dimensions)


@dataclass(frozen=True, slots=True)
class BookedWork:
    """An inspection that is booked already. It takes minutes and keeps its machine away, and is never moved."""

    technician: int
    day: date
    minutes: int
    machine: int
    area: int
    site: int


@dataclass(frozen=True, slots=True)
class Problem:
    """Everything that a plan from `first_day` to `last_day` has to keep; `uneven` weighs loads, see objective.py."""

    first_day: date
    last_day: date
    jobs: tuple[Job, ...]
    technicians: tuple[Technician, ...]
    areas: tuple[AreaRoom, ...]
    sites: tuple[SiteDays, ...]
    booked: tuple[BookedWork, ...] = ()
    uneven: float = UNEVEN

    def __post_init__(self):
        areas, sites = {area.key for area in self.areas}, {site.key for site in self.sites}
        for job in self.jobs:
            if job.area not in areas or job.site not in sites:
                raise ValueError(f"job {job.key} names area {job.area} at site {job.site}; both must be given")
            if job.minutes <= 0:
                raise ValueError(f"job {job.key} takes {job.minutes} minutes; it must take more than 0")
