"""Which areas would drop below their minimum of machines on a day, counting machines that are booked away."""

from collections import Counter
from dataclasses import dataclass
from datetime import date

from django.db.models import Count

from fleet.models import Area, Machine
from fleet.web.at_site import day_words
from inspections.models import Inspection


@dataclass(frozen=True, slots=True)
class Shortfall:
    """An area that a day leaves with fewer machines than its minimum."""

    area: Area
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
    """Return those of `areas` that must keep some machines, each with `in_service`, in two queries."""
    kept = areas.filter(minimum_machines__gt=0).select_related("site").only("name", "minimum_machines", "site__name")
    return list(kept.with_in_service())


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
    away = _booked_away(areas, first, last, there, more=len(chosen))
    if chosen:
        booked = Inspection.objects.to_do_between(first, first).filter(machine__in=chosen)
        at_hand = there.filter(pk__in=chosen).exclude(pk__in=booked.values("machine"))
        for machine in at_hand.values_list("pk", flat=True):
            away[first, chosen[machine]] += 1
    return away


def _booked_away(areas, first, last, there, more):
    """Count the machines of `there` that are booked, by day and area.

    Days on which all areas together have no more bookings than one can spare are not looked at more closely, nor areas
    that can spare as many machines as any day has bookings; `more` will be added to a day.
    """
    booked = Inspection.objects.to_do_between(first, last)
    by_day = dict(booked.values_list("booked_on").annotate(n=Count("*")))
    spare = {pk: area.in_service - area.minimum_machines for pk, area in areas.items()}
    days = [day for day, number in by_day.items() if number + more > min(spare.values(), default=number)]
    tight = [pk for pk, number in spare.items() if number < max(by_day.values(), default=0) + more]
    rows = booked.filter(machine__in=there.filter(area__in=tight), booked_on__in=days)
    counted = rows.values_list("booked_on", "machine__area").annotate(n=Count("machine", distinct=True))
    return Counter({(day, area): number for day, area, number in counted} if days and tight else {})
