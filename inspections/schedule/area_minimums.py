"""Which areas would drop below their minimum of machines on a day, counting machines that are booked away."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import date

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


def shortfalls(areas, first, last, *, adding=()):
    """Return the shortfalls of `areas` on days from `first` to `last` on which a machine is booked, in order of day.

    A machine in service counts as away on a day on which an open inspection of it is booked. `adding` holds inspections
    looked at as if they were booked for `first` too.
    """
    kept = {area.pk: area for area in areas.filter(minimum_machines__gt=0).with_in_service().select_related("site")}
    return [
        Shortfall(kept[area], day, kept[area].in_service, len(machines))
        for (day, area), machines in sorted(_machines_away(kept, first, last, adding).items())
        if kept[area].in_service - len(machines) < kept[area].minimum_machines
    ]


def shortfalls_if_booked(inspections, day):
    """Return what booking `inspections` for `day` would leave short, in the areas of their machines."""
    areas = Area.objects.filter(pk__in={inspection.machine.area_id for inspection in inspections})
    return shortfalls(areas, day, day, adding=inspections)


def _machines_away(areas, first, last, adding):
    """Map day and area to the machines that are at hand and booked away then."""
    away = defaultdict(set)
    booked = Inspection.objects.open().booked_between(first, last).filter(machine__area__in=areas)
    booked = booked.filter(machine__in=Machine.objects.at_hand())
    for day, area, machine in booked.values_list("booked_on", "machine__area", "machine"):
        away[day, area].add(machine)
    chosen = {one.machine_id for one in adding}
    at_hand = set(Machine.objects.at_hand().filter(pk__in=chosen).values_list("pk", flat=True)) if chosen else ()
    for inspection in adding:
        if inspection.machine.area_id in areas and inspection.machine_id in at_hand:
            away[first, inspection.machine.area_id].add(inspection.machine_id)
    return away
