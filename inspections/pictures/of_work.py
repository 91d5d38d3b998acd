"""Pictures of the work: weeks against hours, on time by month, machines that areas are left with."""

from collections import defaultdict
from datetime import timedelta

from fleet.days import day_of_year
from fleet.drawing.columns import Column, columns_over_time, describe_columns
from fleet.drawing.grid import Cell, GridRow, describe_grid, grid
from fleet.models import Area, MachineStatus, Site
from fleet.place_format import counted
from inspections.drawing import LoadRow, WeekBar, describe_week_load, week_load
from inspections.models import Inspection
from inspections.pictures.picture import Picture
from inspections.schedule.on_time import due_dates
from inspections.schedule.on_time_figures import split_figure
from inspections.schedule.year_load import year_loads
from inspections.schedule.year_problem import technicians_with_hours

MOST_PEOPLE = 8
MOST_AREAS = 40
AREA_WEEKS = 13


def weeks_against_hours(person, site, today):
    """Booked work of each technician, week by week, against their hours; six queries."""
    sites = Site.objects.visible_to(person)
    people = list(technicians_with_hours(sites.filter(pk=site.pk) if site else sites))[:MOST_PEOPLE]
    loads = year_loads(people, today)
    rows = [
        LoadRow(
            str(load.person), tuple(WeekBar(one.monday, one.hours / 60, one.booked / 60, 0.0) for one in load.weeks)
        )
        for load in loads
    ]
    return Picture(
        "weeks",
        "Booked work by week against hours",
        f"The next 53 weeks of {MOST_PEOPLE} technicians at most; what is due and not booked is in the year's plan.",
        lambda width, text: week_load(rows, width=width, text=text),
        describe_week_load(rows),
        ("Technician", "Hours", "Booked", "Share", "Weeks beyond the hours"),
        [
            (load.person, counted(round(load.hours / 60)), counted(round(load.load / 60)), f"{load.percent:.0f} %",
             sum(week.is_over for week in load.weeks))
            for load in loads
        ],
        "No technician has working hours. Enter them under Hours and competence.",
    )  # fmt: skip


def on_time_by_month(inspections, first, last, today):
    """Due dates met on time of all that are counted, month by month; two queries."""
    return on_time_picture(split_figure(due_dates(inspections, first, last, today), "month")[1])


def on_time_picture(lines):
    """Return the picture of the lines of the on-time figure by month."""
    columns = [Column(line.label, line.figure.on_time, line.figure.counted, _percent(line.figure)) for line in lines]
    names = {"part": "on time", "rest": "missed"}
    return Picture(
        "on-time",
        "On time by month",
        "Due dates whose last day was in the month; voided and incomplete work is among the missed.",
        lambda width, text: columns_over_time(columns, width=width, text=text, height=text * 21, **names),
        describe_columns(columns, **names),
        ("Month", "On time", "Due dates", "Share"),
        [(line.label, line.figure.on_time, line.figure.counted, _percent(line.figure)) for line in lines],
        "No due date was over in this period.",
    )


def _percent(figure):
    return "" if figure.percent is None else f"{figure.percent:.0f} %"


def areas_against_minimum(areas, today):
    """The fewest machines that each area is left with on a day of each week, against its minimum; two queries.

    A machine in service counts as away on a day on which an open inspection of it is booked.
    """
    monday = today - timedelta(days=today.weekday())
    weeks = [monday + timedelta(weeks=number) for number in range(AREA_WEEKS)]
    kept = list(areas.filter(minimum_machines__gt=0).with_in_service().select_related("site"))
    away = _most_away([area.pk for area in kept], weeks)
    spare = {area.pk: [area.in_service - away[area.pk, week] for week in weeks] for area in kept}
    kept.sort(key=lambda area: (min(spare[area.pk]) - area.minimum_machines, str(area)))
    rows = [_area_row(area, spare[area.pk]) for area in kept[:MOST_AREAS]]
    columns = [day_of_year(week) for week in weeks]
    key = "Machines left on the fullest day of the week. A framed number with “!” is below the minimum."
    return Picture(
        "areas",
        "Areas against their minimum",
        f"The next {AREA_WEEKS} weeks, with what is booked now; the areas with the least to spare first, "
        f"{MOST_AREAS} at most.",
        lambda width, text: grid(columns, rows, width=width, text=text, key=key),
        describe_grid(columns, rows),
        ("Area", "In service", "Minimum", "Fewest left", "Weeks below the minimum"),
        [
            (f"{area.name}, {area.site.name}", area.in_service, area.minimum_machines, min(spare[area.pk]),
             sum(left < area.minimum_machines for left in spare[area.pk]))
            for area in kept[:MOST_AREAS]
        ],
        "No area has a minimum of machines. Enter it with the area.",
    )  # fmt: skip


def _area_row(area, spare):
    cells = tuple(
        Cell(str(left), 0.15 if left == area.minimum_machines else 0.5, left < area.minimum_machines) for left in spare
    )
    return GridRow(f"{area.name} (at least {area.minimum_machines})", cells)


def _most_away(areas, weeks):
    """Map area and week to the number of machines in service that are booked away on its fullest day."""
    last = weeks[-1] + timedelta(days=6)
    booked = Inspection.objects.open().booked_between(weeks[0], last).filter(machine__area__in=areas)
    booked = booked.filter(machine__status=MachineStatus.IN_SERVICE).order_by()
    by_day, most = defaultdict(set), defaultdict(int)
    for area, day, machine in booked.values_list("machine__area", "booked_on", "machine"):
        by_day[area, day].add(machine)
    for (area, day), machines in by_day.items():
        week = day - timedelta(days=day.weekday())
        most[area, week] = max(most[area, week], len(machines))
    return most


def areas_of(person, site, area):
    """Return the areas that the pictures are about."""
    areas = Area.objects.visible_to(person)
    areas = areas.filter(site=site) if site else areas
    return areas.filter(pk=area.pk) if area else areas
