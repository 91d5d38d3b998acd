"""Enter sites with their areas, and people, from a list: all of it or nothing."""

from django.contrib.auth.models import Group
from django.db import transaction

from fleet.actions.people import add_person, password_link
from fleet.actions.places import add_area, add_site
from fleet.errors import RegisterRefused
from fleet.models import Area, Site
from fleet.models.free_codes import free_code


@transaction.atomic
def add_places(places, *, by, at):
    """Enter sites and areas. Raise RegisterRefused for one that was entered meanwhile. Return how many of each.

    places  site and area by name, the minimum of the area, and the fields of a new site
    """
    sites = {site.name: site for site in Site.objects.filter(name__in={place.site for place in places})}
    counts = [0, 0]
    for place in places:
        if place.fields:
            if place.site in sites:
                raise RegisterRefused(f"Nothing was saved: {place.site} was entered meanwhile. Look at the list again.")
            code = free_code(Site, place.site, 20)
            sites[place.site] = add_site(code=code, name=place.site, by=by, at=at, **place.fields)
            counts[0] += 1
        if place.area:
            _add_area(sites[place.site], place, by=by, at=at)
            counts[1] += 1
    return tuple(counts)


def _add_area(site, place, *, by, at):
    if Area.objects.filter(site=site, name__iexact=place.area).exists():
        raise RegisterRefused(f"Nothing was saved: {place.area} was entered meanwhile. Look at the list again.")
    add_area(site, name=place.area, minimum_machines=place.minimum, by=by, at=at)


@transaction.atomic
def add_people(people, *, by, at):
    """Create accounts, each with a password link. Return (person, parts of the link) of each; raise PersonRefused."""
    groups = {group.name: group for group in Group.objects.all()}
    sites = {site.name: site for site in Site.objects.all()}
    made = []
    for one in people:
        person = add_person(
            username=one.username,
            groups=[groups[name] for name in one.groups],
            sites=[sites[name] for name in one.sites],
            by=by,
            at=at,
            **one.names,
        )
        made.append((person, password_link(person, by=by, at=at)))
    return made
