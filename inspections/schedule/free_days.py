"""Days without planned work: public holidays and free days of a site, closing days of an area."""

from collections import defaultdict

from fleet.catalogue.public_holidays import holidays_between
from inspections.models import AreaClosing, FreeDay
from inspections.schedule.working_days import days_between


def free_days(sites, first, last):
    """Return date -> title of the free days of each site, by key. One query."""
    found = {
        site.pk: dict(holidays_between(site.holiday_country, site.holiday_subdivision, first, last)) for site in sites
    }
    rows = FreeDay.objects.in_force().filter(site__in=found, day__range=(first, last))
    for site, day, title in rows.values_list("site", "day", "title"):
        found[site][day] = title
    return found


def closings_of(area_ids):
    """Return the closings in force of each area, by key. One query."""
    found = defaultdict(list)
    for closing in AreaClosing.objects.in_force().filter(area__in=area_ids):
        found[closing.area_id].append(closing)
    return found


def closed_days(closings, first, last):
    """Return the days from `first` to `last` that one of the closings holds."""
    return frozenset(day for day in days_between(first, last) if any(one.holds(day) for one in closings))
