"""Enter and correct sites and areas."""

from django.db import transaction

from fleet.errors import RegisterRefused
from fleet.models import Area, Site

SITE_FIELDS = ("name", "altitude_m", "time_zone")
AREA_FIELDS = ("name", "minimum_machines")


def add_site(**fields):
    return Site.objects.create(**fields)


def add_area(site, **fields):
    return Area.objects.create(site=site, **fields)


def change_site(site, **fields):
    """Change a site's name, altitude or time zone; signed records keep the ambient pressure they were made at."""
    return _change(site, SITE_FIELDS, fields)


def change_area(area, **fields):
    """Change an area's name or the number of machines that it must never drop below."""
    return _change(area, AREA_FIELDS, fields)


@transaction.atomic
def _change(place, accepted, fields):
    unknown = fields.keys() - set(accepted)
    if unknown:
        raise RegisterRefused(f"{', '.join(sorted(unknown))} cannot be changed. Accepted: {', '.join(accepted)}.")
    for name, value in fields.items():
        setattr(place, name, value)
    place.save(update_fields=list(fields))
    return place
