"""Questions about proposed plans."""

from django.db import models


class YearPlanQuerySet(models.QuerySet):
    def newest_of(self, person):
        """The plan that the page of a person shows, or None."""
        return self.filter(by=person).order_by("-made_at", "-pk").first()


class ProposedDayQuerySet(models.QuerySet):
    def placed(self):
        return self.filter(day__isnull=False)

    def unplaced(self):
        return self.filter(day__isnull=True)

    def with_place(self):
        return self.select_related(
            "inspection__machine__model", "inspection__machine__area__site", "inspection__procedure", "technician"
        )
