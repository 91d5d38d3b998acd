"""Questions about calendars and competences, as QuerySet methods that read as English."""

from django.db.models import Q

from fleet.acting.querysets import JournaledQuerySet
from fleet.models import Area, Site


class InForceQuerySet(JournaledQuerySet):
    """Rows that stay in the table once they are withdrawn."""

    def in_force(self):
        return self.filter(withdrawn_at=None)

    def between(self, first, last):
        """Keep what reaches into the days from `first` to `last`."""
        return self.filter(first_day__lte=last, last_day__gte=first)


class OfPersonQuerySet(InForceQuerySet):
    """Rows about technicians. A planner sees those of everybody who may work at one of the planner's sites."""

    def visible_to(self, person):
        if not person.is_authenticated:
            return self.none()
        if not person.site_ids:
            return self
        return self.filter(Q(person__sites=None) | Q(person__sites__in=person.site_ids)).distinct()


class CompetenceQuerySet(OfPersonQuerySet):
    def valid_on(self, day):
        """Keep what is confirmed, not withdrawn, and not past its last day."""
        return self.in_force().filter(Q(last_day=None) | Q(last_day__gte=day))

    def for_model(self, model):
        return self.filter(Q(machine_model=model) | Q(manufacturer=model.manufacturer), skill="")


class OfPlaceQuerySet(InForceQuerySet):
    """Rows about a site or an area."""

    def visible_to(self, person):
        sites = Site.objects.visible_to(person)
        if hasattr(self.model, "site_id"):
            return self.filter(site__in=sites)
        return self.filter(area__in=Area.objects.filter(site__in=sites))


class CalendarFeedQuerySet(InForceQuerySet):
    """Links of technicians and of areas."""

    def visible_to(self, person):
        if not person.is_authenticated:
            return self.none()
        if not person.site_ids:
            return self
        of_person = Q(person__isnull=False) & (Q(person__sites=None) | Q(person__sites__in=person.site_ids))
        return self.filter(of_person | Q(area__site__in=person.site_ids)).distinct()
