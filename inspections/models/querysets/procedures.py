"""Questions about procedures, as QuerySet methods that read as English."""

from django.apps import apps
from django.db.models import Count, Exists, OuterRef, Q, Subquery
from django.db.models.functions import Coalesce
from django.utils import timezone

from fleet.acting.querysets import JournaledQuerySet


class ProcedureQuerySet(JournaledQuerySet):
    def recurring(self):
        """Done at an interval, the longest first."""
        return self.filter(interval_months__isnull=False).order_by("-interval_months", "code")

    def begun(self, on):
        """All but those whose first version begins after the date `on`."""
        versions = _versions().filter(procedure=OuterRef("pk"))
        return self.filter(~Exists(versions) | Exists(versions.begun(on)))

    def with_rule_count(self, on):
        """Annotate `rule_count`: how many planning rules are in force for the procedure on a date."""
        rules = apps.get_model("inspections", "PlanningRule").objects.in_force(on).filter(procedure=OuterRef("pk"))
        counted = rules.order_by().values("procedure").annotate(number=Count("pk")).values("number")
        return self.annotate(rule_count=Coalesce(Subquery(counted), 0))

    def with_newest_version(self, on=None):
        """Annotate the number, time of loading and beginning of the version in force on a date, by default today.

        Annotate `next_number` and `next_from_date` of the newest version where it begins later.
        """
        day = on or timezone.localdate()
        versions = _versions().filter(procedure=OuterRef("pk")).order_by("-number")
        newest = versions.begun(day)
        later = versions.filter(from_date__gt=day, number__gt=Coalesce(OuterRef("newest_number"), 0))
        in_force = self.annotate(
            newest_number=Subquery(newest.values("number")[:1]),
            newest_loaded_at=Subquery(newest.values("loaded_at")[:1]),
            newest_from_date=Subquery(newest.values("from_date")[:1]),
        )
        return in_force.annotate(
            next_number=Subquery(later.values("number")[:1]),
            next_from_date=Subquery(later.values("from_date")[:1]),
        )


class ProcedureVersionQuerySet(JournaledQuerySet):
    def begun(self, on):
        """Those whose date has come; one that was loaded from a file has none, and began at once."""
        return self.filter(Q(from_date=None) | Q(from_date__lte=on))

    def newest(self, on=None):
        """The version of each procedure that is in force on a date, by default today."""
        begun = _versions().begun(on or timezone.localdate())
        newest = begun.filter(procedure=OuterRef("procedure")).order_by("-number").values("pk")[:1]
        return self.filter(pk=Subquery(newest))

    def from_files(self):
        """Those that nobody approved on a page."""
        return self.filter(approved_by=None)


def _versions():
    return apps.get_model("inspections", "ProcedureVersion").objects
