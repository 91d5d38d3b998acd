"""Who can be given work."""

from django.db.models import Q

from fleet.models import Person


def technicians_for(site_ids):
    """People who may enter readings at one at least of the sites: those narrowed to none or to one of them."""
    able = Person.objects.with_perm("inspections.enter_reading", include_superusers=False)
    return able.filter(Q(sites=None) | Q(sites__in=site_ids)).distinct()


def works_at(person, site_ids):
    """Whether `person` may work at every one of the sites."""
    return not person.site_ids or set(site_ids) <= set(person.site_ids)
