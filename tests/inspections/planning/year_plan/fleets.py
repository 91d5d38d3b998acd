"""Invented fleets for plans: sites, areas, people with leave and competences, and inspections through a year."""

from datetime import date, timedelta
from random import Random

from inspections.planning.year_plan import AreaRoom, BookedWork, Job, Problem, SiteDays, Span, Technician

FIRST = date(2027, 1, 4)  # a Monday
DAYS = 364
ALWAYS = (Span(FIRST - timedelta(days=400), FIRST + timedelta(days=800)),)


def make_fleet(machines, technicians, *, seed=1, window=30, booked=0):
    """A problem of a year: every machine once, a third of them for the competent only, some work booked."""
    random = Random(seed)
    sites = tuple(
        SiteDays(one, f"Site {one}", frozenset({date(2027, 12, 24), date(2027, 5, 3)}), {"pressure": ALWAYS})
        for one in range(3)
    )
    areas = tuple(_area(one, random) for one in range(max(6, machines // 30)))
    people = tuple(_technician(one, random) for one in range(technicians))
    jobs = tuple(_job(one, areas, random, window) for one in range(machines))
    return Problem(
        FIRST, FIRST + timedelta(days=DAYS - 1), jobs, people, areas, sites, tuple(_booked(people, booked, random))
    )


def _area(number, random):
    closed = frozenset(FIRST + timedelta(days=day) for day in range(number % 5, DAYS, 7)) if number % 3 == 0 else ()
    return AreaRoom(number, f"Area {number}", random.choice([None, 1, 2, 3]), frozenset(closed))


def _technician(number, random):
    leave = range(start := random.randrange(300), start + 20)
    minutes = {FIRST + timedelta(days=day): 450 for day in range(DAYS) if day % 7 < 5 and day not in leave}
    skills = {f"model {one}": None for one in range(5) if (one + number) % 4}
    skills["model 1"] = FIRST + timedelta(days=200 + 10 * number)
    return Technician(number + 1, f"T{number}", minutes, frozenset() if number % 4 else frozenset({0, 1}), skills)


def _job(number, areas, random, window):
    area = random.randrange(len(areas))
    due = FIRST + timedelta(days=random.randrange(-20, DAYS))
    last = due + timedelta(days=window) if due >= FIRST else FIRST + timedelta(days=28)
    skill = random.choice(["", "", f"model {random.randrange(5)}"])
    first, minutes = due - timedelta(days=window), random.choice([45, 75, 90, 120])
    return Job(number, number, area, area % 3, minutes, first, last, due, skill, frozenset({"pressure"}))


def _booked(people, count, random):
    for number in range(count):
        one = people[number % len(people)]
        day = random.choice(sorted(one.minutes))
        yield BookedWork(one.key, day, 90, 100_000 + number, area=1, site=1)
