"""What a plan of a year is made from: open inspections, people, areas, sites and instruments, read from the records."""

from datetime import timedelta

from fleet.models import Area, AwayPeriod, MachineModel, MachineStatus, Person, Site
from inspections.at_bench.instrument_choice import instruments_of_sites
from inspections.models import Inspection, Procedure
from inspections.planning.year_plan import AreaRoom, BookedWork, Job, Problem, SiteDays, Span, Technician
from inspections.schedule.competence import competences_of
from inspections.schedule.free_days import closed_days, closings_of, free_days
from inspections.schedule.needed_dimensions import needed_dimensions
from inspections.schedule.technicians import technicians_for
from inspections.schedule.usual_minutes import usual_minutes
from inspections.schedule.working_days import minutes_by_day
from inspections.schedule.year_skills import NeededTogether

YEAR_DAYS = 366
OVERDUE_DAYS = 28  # within which what is overdue is planned; common practice, no source
COLUMNS = (
    "pk", "machine", "machine__area", "machine__area__site", "machine__model", "machine__status", "procedure",
    "opens_on", "closes_on", "due_on", "technician", "booked_on",
)  # fmt: skip


def year_problem(person, today, *, jobs=None, first=None, last=None, leaving_out=(), away=None, near="due_on"):
    """Return the Problem of the inspections that `person` may see, from tomorrow on for a year.

    jobs         the inspections to place, by default all that are planned and not booked
    leaving_out  keys of booked inspections that are not held fixed, because they are placed again
    away         (key of a technician, first day, last day) without hours, beside the leave entered
    near         the column whose day an inspection should be close to
    The number of queries does not grow with inspections or machines.
    """
    first = first or today + timedelta(days=1)
    last = last or first + timedelta(days=YEAR_DAYS - 1)
    visible = Inspection.objects.visible_to(person).exclude(machine__status=MachineStatus.RETIRED)
    jobs = visible.planned().filter(opens_on__lte=last) if jobs is None else jobs
    planned = list(jobs.order_by("due_on", "pk").values(*COLUMNS))
    booked = Inspection.objects.open().booked_between(first, last).exclude(pk__in=leaving_out)
    booked = list(booked.order_by("booked_on", "pk").values(*COLUMNS))
    minutes = usual_minutes({(row["procedure"], row["machine__model"]) for row in [*planned, *booked]})
    names = {model.pk: f"{model} ({model.code})" for model in MachineModel.objects.all()}
    sites = list(Site.objects.visible_to(person).order_by("pk"))
    demanding, dimensions = _demanding(sites), _dimensions(planned, today)
    back = dict(AwayPeriod.objects.now().visible_to(person).values_list("machine", "expected_on"))
    for row in [*planned, *booked]:
        row["is_away"] = row["machine"] in back
    needed = NeededTogether(planned, names, demanding, first, last)
    jobs = tuple(_job(row, minutes, needed, dimensions, _first_day(row, first, back), near) for row in planned)
    return Problem(
        first, last,
        jobs=jobs,
        technicians=_technicians(sites, needed, first, last, away),
        areas=_areas(sites, first, last),
        sites=_sites(sites, today, first, last),
        booked=tuple(_booked(row, minutes) for row in booked),
    )  # fmt: skip


def technicians_with_hours(sites):
    """Return the people who may work at the sites and whose hours are entered."""
    able = technicians_for([site.pk for site in sites]).filter(working_hours__minutes__gt=0)
    return Person.objects.filter(pk__in=able.values("pk")).order_by("pk").prefetch_related("sites")


def _demanding(sites):
    return {site.pk for site in sites if site.needs_competence}


def _dimensions(rows, today):
    procedures = Procedure.objects.filter(pk__in={row["procedure"] for row in rows})
    return needed_dimensions(procedures, today)


def _first_day(row, first, back):
    """The first day on which work on the machine of a row can be planned: when it is expected back if it is away."""
    return max(first, back.get(row["machine"], first))


def _job(row, minutes, needed, dimensions, first, near):
    last_day = row["closes_on"]
    if last_day < first:
        last_day = first + timedelta(days=OVERDUE_DAYS - 1)
    return Job(
        row["pk"], row["machine"], _area_key(row), row["machine__area__site"],
        minutes[row["procedure"], row["machine__model"]],
        max(row["opens_on"], first), last_day, row[near],
        needed.name(row, max(row["opens_on"], first), last_day),
        dimensions[row["procedure"]],
    )  # fmt: skip


def _area_key(row):
    """No area misses a machine withdrawn from use or away: its area is entered twice, once without a minimum."""
    area = row["machine__area"]
    return area if row["machine__status"] == MachineStatus.IN_SERVICE and not row["is_away"] else -area


def _booked(row, minutes):
    return BookedWork(
        row["technician"], row["booked_on"], minutes[row["procedure"], row["machine__model"]], row["machine"],
        _area_key(row), row["machine__area__site"],
    )  # fmt: skip


def _technicians(sites, needed, first, last, away):
    people = list(technicians_with_hours(sites))
    minutes = minutes_by_day([one.pk for one in people], first, last)
    competences = competences_of([one.pk for one in people])
    models = list(MachineModel.objects.all())
    return tuple(
        Technician(
            one.pk, str(one), _without(minutes.get(one.pk, {}), one.pk, away),
            frozenset(site.pk for site in one.sites.all()),
            needed.held(competences[one.pk], models),
        )
        for one in people
    )  # fmt: skip


def _without(minutes, key, away):
    if away is None or away[0] != key:
        return minutes
    return {day: number for day, number in minutes.items() if not away[1] <= day <= away[2]}


def _areas(sites, first, last):
    areas = list(Area.objects.filter(site__in=sites).with_in_service().select_related("site").order_by("pk"))
    closings = closings_of([area.pk for area in areas])
    found = []
    for area in areas:
        spare = max(0, area.in_service - area.minimum_machines) if area.minimum_machines else None
        closed = closed_days(closings[area.pk], first, last) if area.pk in closings else frozenset()
        found += [AreaRoom(area.pk, str(area), spare, closed), AreaRoom(-area.pk, str(area), None, closed)]
    return tuple(found)


def _sites(sites, today, first, last):
    free, offered = free_days(sites, first, last), instruments_of_sites(sites, today)
    return tuple(
        SiteDays(site.pk, str(site), frozenset(free[site.pk]), _spans(offered[site.pk], today, last)) for site in sites
    )


def _spans(choices, today, last):
    """An instrument that may be used today counts as calibrated again in time; one that may not is out from now on."""
    found = {}
    for choice in choices:
        until = today - timedelta(days=1) if choice.refusal else last
        for dimension in sorted(choice.dimensions):
            found.setdefault(dimension, []).append(Span(today - timedelta(days=1), until))
    return {dimension: tuple(spans) for dimension, spans in found.items()}
