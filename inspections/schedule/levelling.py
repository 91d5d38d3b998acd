"""First inspections of a new department spread over the interval: the machines that matter most come first."""

from collections import Counter
from dataclasses import dataclass
from datetime import date, timedelta

from dateutil.relativedelta import relativedelta
from django.db.models import Exists, OuterRef

from fleet.models import EarlierInspection, Machine, MachineStatus
from inspections.models import Inspection
from inspections.retirement.gathering import rank_machines

LEVELLED = "First due date levelled"  # begins the note of an inspection that was levelled: none is levelled twice
MOST = 6000


@dataclass(frozen=True, slots=True)
class FirstDate:
    """An inspection with its present and its levelled due date, and the place of its machine in the ranking."""

    inspection: Inspection
    due_on: date
    place: int


def first_inspections(person, today):
    """Return planned, not booked, not overdue inspections at an interval of machines that were never inspected so."""
    signed = Inspection.objects.signed().filter(machine=OuterRef("machine"), procedure=OuterRef("procedure"))
    elsewhere = EarlierInspection.objects.filter(machine=OuterRef("machine"), counts_as=OuterRef("procedure__code"))
    planned = Inspection.objects.visible_to(person).planned().filter(
        procedure__interval_months__isnull=False, closes_on__gte=today, retests=None
    )  # fmt: skip
    planned = planned.exclude(machine__status=MachineStatus.RETIRED).exclude(note__startswith=LEVELLED)
    return planned.filter(~Exists(signed), ~Exists(elsewhere))


def levelled(inspections, today):
    """Return a FirstDate for each inspection: spread evenly over the interval of its procedure, the worst rank first.

    Machines are ranked by the retirement review; equal ones follow the age and the key. Days fall on Monday to Friday.
    """
    rows = list(inspections.select_related("machine", "procedure").order_by("pk")[:MOST])
    machines = Machine.objects.filter(pk__in=[row.machine_id for row in rows])
    places = {each.machine.pk: place for place, each in enumerate(rank_machines(machines, today), start=1)}
    by_procedure = {}
    for row in rows:
        by_procedure.setdefault(row.procedure, []).append(row)
    return [
        one
        for procedure in sorted(by_procedure, key=lambda procedure: procedure.pk)
        for one in _spread(procedure, by_procedure[procedure], places, today)
    ]


def days_before_and_after(inspections, today):
    """Return the present and the levelled due dates, without saying which machine gets which: no ranking is needed."""
    columns = ("procedure", "procedure__interval_months", "due_on")
    rows = list(inspections.order_by("pk").values_list(*columns)[:MOST])
    numbers = Counter((procedure, months) for procedure, months, _ in rows)
    after = [day for (_, months), number in numbers.items() for day in _days(months, number, today)]
    return [due_on for *_, due_on in rows], after


def _spread(procedure, rows, places, today):
    rows = sorted(rows, key=lambda row: (places[row.machine_id], row.machine.built_year or 0, row.pk))
    for row, day in zip(rows, _days(procedure.interval_months, len(rows), today), strict=True):
        yield FirstDate(row, day, places[row.machine_id])


def _days(months, number, today):
    """Yield `number` days, even over an interval from today on, each on Monday to Friday."""
    days = (today + relativedelta(months=months) - today).days
    for place in range(number):
        yield _on_weekday(today + timedelta(days=days * place // number))


def _on_weekday(day):
    return day + timedelta(days=7 - day.weekday()) if day.weekday() >= 5 else day


def by_week(days, first, weeks):
    """Return (Monday, number) of the days for `weeks` from that of `first` on; others at the ends."""
    monday = first - timedelta(days=first.weekday())
    mondays = [monday + timedelta(weeks=number) for number in range(weeks)]
    counts = Counter(min(max((day - monday).days // 7, 0), weeks - 1) for day in days)
    return [(start, counts[number]) for number, start in enumerate(mondays)]
