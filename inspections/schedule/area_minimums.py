"""Which areas would drop below their minimum of machines on a day, counting machines that are booked away."""

from collections import Counter
from dataclasses import dataclass
from datetime import date

from django.db.models import Count

from fleet.models import Area, Machine
from fleet.models.querysets.places import numbers_away
from fleet.models.querysets.prepared_queries import prepared
from fleet.web.at_site import day_words
from inspections.kept_counts.counts import counts_hold
from inspections.kept_counts.work_counts import areas_booked, machines_at_hand
from inspections.models import Inspection

COLUMNS = ("pk", "site", "name", "site__name", "minimum_machines")


@dataclass(frozen=True, slots=True)
class KeptArea:
    """An area that must keep some machines, and how many in service are there."""

    pk: int
    site: int
    name: str
    site_name: str
    minimum_machines: int
    in_service: int

    def __str__(self):
        return Area.in_words(self.name, self.site_name)

    def get_absolute_url(self):
        return Area.address_of(self.pk)


@dataclass(frozen=True, slots=True)
class Shortfall:
    """An area that a day leaves with fewer machines than its minimum."""

    area: KeptArea
    day: date
    in_service: int
    booked: int

    @property
    def left(self):
        return self.in_service - self.booked

    def __str__(self):
        machines = "machine" if self.left == 1 else "machines"
        return (
            f"{self.area} is left with {self.left} {machines} on {day_words(self.day)}, "
            f"below its minimum of {self.area.minimum_machines} "
            f"({self.in_service} in service, {self.booked} booked that day)."
        )


def areas_with_minimum(areas):
    """Return those of `areas` that must keep some machines, as KeptArea objects, in two queries."""
    kept = areas.filter(minimum_machines__gt=0).with_in_service()
    return [KeptArea(*row) for row in kept.values_list(*COLUMNS, "in_service")]


def areas_with_minimum_of(person):
    """Return the same of the areas that `person` may see, from kept counts where they hold; few queries, prepared."""
    if counts_hold():
        at_hand = dict(machines_at_hand())
        return [
            KeptArea(*row, in_service=at_hand.get(row[0], 0))
            for row in _those_with_minimum()
            if not person.site_ids or row[1] in person.site_ids
        ]
    away = dict(numbers_away())
    return [
        KeptArea(*row, in_service=number - away.get(row[0], 0))
        for *row, number in _with_minimum()
        if not person.site_ids or row[1] in person.site_ids
    ]


@prepared
def _those_with_minimum():
    return Area.objects.filter(minimum_machines__gt=0).values_list(*COLUMNS)


@prepared
def _with_minimum():
    kept = Area.objects.filter(minimum_machines__gt=0).with_in_service_or_away()
    return kept.values_list(*COLUMNS, "in_service_or_away")


def shortfalls(areas, first, last, *, adding=()):
    """Return the shortfalls of `areas` on days from `first` to `last` on which a machine is booked, in order of day.

    A machine in service counts as away on a day on which an open inspection of it is booked. `adding` holds inspections
    looked at as if they were booked for `first` too.

    areas  as `areas_with_minimum` returns them
    """
    kept = {area.pk: area for area in areas}
    away = _machines_away(kept, first, last, adding)
    return [
        Shortfall(kept[area], day, kept[area].in_service, number)
        for (day, area), number in sorted(away.items())
        if kept[area].in_service - number < kept[area].minimum_machines
    ]


def shortfalls_if_booked(inspections, day):
    """Return what booking `inspections` for `day` would leave short, in the areas of their machines."""
    areas = Area.objects.filter(pk__in={inspection.machine.area_id for inspection in inspections})
    return shortfalls(areas_with_minimum(areas), day, day, adding=inspections)


def _machines_away(areas, first, last, adding):
    """Map day and area to the number of machines that are at hand and booked away then, where it can be too many."""
    there = Machine.objects.at_hand()
    chosen = {one.machine_id: one.machine.area_id for one in adding if one.machine.area_id in areas}
    count = _booked_by_counts if counts_hold() else _booked_away
    away = count(areas, first, last, there, more=len(chosen))
    if chosen:
        booked = Inspection.objects.to_do_between(first, first).filter(machine__in=chosen)
        at_hand = there.filter(pk__in=chosen).exclude(pk__in=booked.values("machine"))
        for machine in at_hand.values_list("pk", flat=True):
            away[first, chosen[machine]] += 1
    return away


@prepared
def _numbers_booked(first, last):
    return Inspection.objects.to_do_between(first, last).values_list("booked_on").annotate(n=Count("*"))


def _booked_by_counts(areas, first, last, there, more):
    """Return the same as `_booked_away` from kept counts."""
    spare = {pk: area.in_service - area.minimum_machines for pk, area in areas.items()}
    beyond = max(min(spare.values(), default=0) - more, 0)
    rows = areas_booked(first, last, beyond)
    return Counter({(day, area): number for day, area, number in rows if area in spare and number + more > spare[area]})


def _booked_away(areas, first, last, there, more):
    """Count the machines of `there` that are booked, by day and area.

    Days on which all areas together have no more bookings than one can spare are not looked at more closely, nor areas
    that can spare as many machines as any day has bookings; `more` will be added to a day.
    """
    booked = Inspection.objects.to_do_between(first, last)
    by_day = dict(_numbers_booked(first, last))
    spare = {pk: area.in_service - area.minimum_machines for pk, area in areas.items()}
    days = [day for day, number in by_day.items() if number + more > min(spare.values(), default=number)]
    tight = [pk for pk, number in spare.items() if number < max(by_day.values(), default=0) + more]
    rows = booked.filter(machine__in=there.filter(area__in=tight), booked_on__in=days)
    counted = rows.values_list("booked_on", "machine__area").annotate(n=Count("machine", distinct=True))
    return Counter({(day, area): number for day, area, number in counted} if days and tight else {})
