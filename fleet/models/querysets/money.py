"""Prices and costs: those in force, those that a person may see."""

from django.db.models import Q

from fleet.acting.querysets import JournaledQuerySet
from fleet.models.querysets.scoped import MachineRowQuerySet, SiteScopedQuerySet


class InForce(JournaledQuerySet):
    """Rows that can be withdrawn."""

    def in_force(self):
        return self.filter(withdrawn_at__isnull=True)


class MachineMoneyQuerySet(MachineRowQuerySet, InForce):
    """Amounts of a machine."""

    def with_subject(self):
        return self.select_related("machine__model", "machine__area__site", "by")


class SiteMoneyQuerySet(SiteScopedQuerySet, InForce):
    """Amounts of a site."""

    def with_subject(self):
        return self.select_related("site", "by")

    def on(self, day):
        """Return what counts on a day, the latest last."""
        return self.in_force().filter(from_date__lte=day).order_by("from_date", "pk")


class ModelMoneyQuerySet(InForce):
    """Amounts of a machine model, which belong to no site: whoever may see prices sees them."""

    def visible_to(self, person):
        return self if person.is_authenticated else self.none()

    def with_subject(self):
        return self.select_related("model", "by")

    def on(self, day):
        """Return what was priced by a day, the latest last."""
        return self.in_force().filter(priced_on__lte=day).order_by("priced_on", "pk")


class AlterationPriceQuerySet(ModelMoneyQuerySet):
    """Prices of alterations."""


class ContractQuerySet(InForce):
    """Service contracts of machines, and of models at sites."""

    def visible_to(self, person):
        if not person.is_authenticated:
            return self.none()
        if not person.site_ids:
            return self
        return self.filter(Q(site__in=person.site_ids) | Q(machine__area__site__in=person.site_ids))

    def reaching(self, machine):
        """Return those in force that are for a machine, or for its model at its site."""
        of_model = Q(model=machine.model_id, site=machine.area.site_id)
        return self.in_force().filter(Q(machine=machine) | of_model)

    def with_subject(self):
        return self.select_related("machine__model", "model", "site", "by")
