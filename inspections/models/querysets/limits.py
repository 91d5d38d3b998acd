"""Questions about limits, as QuerySet methods that read as English."""

from django.db.models import Q

from fleet.acting.querysets import JournaledQuerySet


class LimitOverrideQuerySet(JournaledQuerySet):
    def visible_to(self, person):
        """The limits of machine models, and those of the sites that `person` may see."""
        return self.filter(Q(site=None) | Q(site__in=person.site_ids)) if person.site_ids else self

    def changeable_by(self, person):
        """Somebody narrowed to sites changes the limits of those; a machine model's limit reaches every site."""
        return self.filter(site__in=person.site_ids) if person.site_ids else self

    def with_target(self):
        return self.select_related("machine_model", "site", "by")

    def not_ended(self, day):
        """In force on `day` or to come."""
        return self.filter(Q(until_date=None) | Q(until_date__gt=day))

    def in_force(self, day):
        """In force on `day`. One that was kept from earlier days without a source is not applied."""
        return self.filter(Q(until_date=None) | Q(until_date__gt=day), from_date__lte=day, without_source=False)

    def for_machines(self, machine_model, site):
        """The overrides that reach the machines of a model at a site."""
        return self.filter(Q(machine_model=machine_model) | Q(site=site))


class LimitConfirmationQuerySet(JournaledQuerySet):
    def visible_to(self, person):
        return self.filter(site__in=person.site_ids) if person.site_ids else self

    def in_force(self):
        return self.filter(withdrawn_at=None)

    def with_people(self):
        return self.select_related("site", "by")
