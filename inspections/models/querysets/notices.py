"""Questions about safety notices and their items, as QuerySet methods that read as English."""

from django.apps import apps
from django.db.models import Count, F, OuterRef, Q, Subquery
from django.db.models.functions import Coalesce

from fleet.acting.querysets import JournaledQuerySet


class SafetyNoticeQuerySet(JournaledQuerySet):
    """A notice is seen by everybody; of its items each person sees those of the own sites."""

    def visible_to(self, person):
        """Return all notices; of those about an instrument, only the ones of the person's sites."""
        if not person.is_authenticated:
            return self.none()
        if not person.site_ids:
            return self
        return self.filter(Q(calibration=None) | Q(calibration__instrument__site__in=person.site_ids))

    def open(self):
        return self.filter(closed_at=None)

    def closed(self):
        return self.exclude(closed_at=None)

    def found_by(self, text):
        """Keep the notices whose reference, title or publisher contains `text`."""
        words = Q(reference__icontains=text) | Q(title__icontains=text) | Q(published_by__icontains=text)
        return self.filter(words)

    def with_counts(self, person):
        """Annotate `items_seen` and `items_open`, of the items that `person` may see."""
        items = apps.get_model("inspections", "NoticeItem").objects.visible_to(person).filter(notice=OuterRef("pk"))
        return self.annotate(items_seen=_count(items), items_open=_count(items.open()))

    def first_due(self):
        return self.order_by(F("answer_by").asc(nulls_last=True), "pk")


class NoticeCriterionQuerySet(JournaledQuerySet):
    def in_force(self):
        return self.filter(withdrawn_at=None)

    def withdrawn(self):
        return self.exclude(withdrawn_at=None)


class NoticeItemQuerySet(JournaledQuerySet):
    def visible_to(self, person):
        """Return what `person` may see: every site, or the sites that the person is limited to."""
        if not person.is_authenticated:
            return self.none()
        if not person.site_ids:
            return self
        sites = person.site_ids
        return self.filter(Q(machine__area__site__in=sites) | Q(instrument__site__in=sites))

    def open(self):
        return self.filter(state="open")

    def without_work(self):
        """Open items on which nothing was opened, though there is something to work on."""
        there = self.open().filter(finding=None, planned=None, machine__isnull=False).exclude(machine__status="retired")
        return there.filter(Q(component=None) | Q(component__removed_on=None))

    def with_place(self):
        return self.select_related(
            "machine__model", "machine__area__site", "component", "instrument__site", "inspection__procedure",
            "inspection__machine", "settled_by", "finding", "planned__procedure",
        )  # fmt: skip

    def counts(self):
        """Return how many there are: of all, by answer and by state. One query."""
        of = {name: Count("pk", filter=condition) for name, condition in COUNTED.items()}
        return self.aggregate(total=Count("pk"), **of)


COUNTED = {
    "concerned": Q(match="concerned"),
    "undecided": Q(match="cannot be decided"),
    "changed": Q(match="changed"),
    "open": Q(state="open"),
    "settled": ~Q(state="open"),
    "done": Q(state="done"),
    "not_concerned": Q(state="not concerned"),
    "gone": Q(state="gone"),
    "not_named": Q(state="not named"),
    "late": Q(match="cannot be decided", state="open"),
}


def _count(items):
    counted = items.order_by().values("notice").annotate(n=Count("pk")).values("n")
    return Coalesce(Subquery(counted), 0)
