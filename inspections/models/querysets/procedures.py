"""Questions about procedures, as QuerySet methods that read as English."""

from django.apps import apps
from django.db.models import OuterRef, Subquery

from fleet.acting.querysets import JournaledQuerySet


class ProcedureQuerySet(JournaledQuerySet):
    def recurring(self):
        """Done at an interval, the longest first."""
        return self.filter(interval_months__isnull=False).order_by("-interval_months", "code")

    def with_newest_version(self):
        """Annotate `newest_number` and `newest_loaded_at` of the newest version."""
        ProcedureVersion = apps.get_model("inspections", "ProcedureVersion")
        newest = ProcedureVersion.objects.filter(procedure=OuterRef("pk")).order_by("-number")
        return self.annotate(
            newest_number=Subquery(newest.values("number")[:1]),
            newest_loaded_at=Subquery(newest.values("loaded_at")[:1]),
        )


class ProcedureVersionQuerySet(JournaledQuerySet):
    def newest(self):
        """The newest version of each procedure."""
        ProcedureVersion = apps.get_model("inspections", "ProcedureVersion")
        newest = ProcedureVersion.objects.filter(procedure=OuterRef("procedure")).order_by("-number").values("pk")[:1]
        return self.filter(pk=Subquery(newest))
