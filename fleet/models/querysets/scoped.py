"""Rows narrowed to the sites of the person who asks, and rows that hold for a stretch of time."""

from django.apps import apps
from django.db.models import Q

from fleet.acting.querysets import JournaledQuerySet

FEW = 1_500  # components found that are named by their keys


class SiteScopedQuerySet(JournaledQuerySet):
    """Rows that belong to a site, limited to the sites of the person who asks."""

    site_path = "site"

    def visible_to(self, person):
        """Return what `person` may see: every site, or the sites that the person is limited to."""
        if not person.is_authenticated:
            return self.none()
        if not person.site_ids:
            return self
        return self.filter(**{f"{self.site_path}__in": person.site_ids})


class MachineRowQuerySet(SiteScopedQuerySet):
    """Rows that belong to a machine."""

    site_path = "machine__area__site"


class DatedRowQuerySet(MachineRowQuerySet):
    """Rows of a machine that hold for a period, in the fields of the model's `span`: first day, day after the last."""

    def on(self, day):
        """Return what held on the date `day`: begun by then and not yet ended."""
        start, end = self.model.span
        return self.filter(Q(**{f"{end}__isnull": True}) | Q(**{f"{end}__gt": day}), **{f"{start}__lte": day})


class ComponentQuerySet(DatedRowQuerySet):
    def numbered(self, text):
        """Return the components, removed ones among them, whose serial, lot or part number contains `text`."""
        return self.filter(Q(serial__icontains=text) | Q(lot__icontains=text) | Q(part_number__icontains=text))

    def found_by(self, text):
        return self.numbered(text)

    def keys_numbered(self, text):
        """Return the keys of all that `text` numbers, read once, however often a page asks; None for more than FEW."""
        keys = list(self.order_by().numbered(text).values_list("pk", flat=True)[: FEW + 1])
        return keys if len(keys) <= FEW else None

    def entered(self):
        """Without those of machines that an import is still entering, which are asked for only while there are any."""
        staged = apps.get_model("fleet", "Machine").with_staged.exclude(staged="").order_by()
        return self.exclude(machine__in=staged.values("pk")) if staged.exists() else self

    def in_place(self):
        return self.filter(removed_on=None)

    def removed(self):
        return self.exclude(removed_on=None)
