"""Questions about kept rows."""

from django.db.models import Count, Min, Q

from fleet.models.querysets.machines import machines_found, on_found
from fleet.models.querysets.scoped import SiteScopedQuerySet

# The steps of the ranking (inspections/review/ranking.py), worst first, as columns.
REVIEW_STEPS = (
    "conclusion", "-absolute", "-exposure", "-relative", "-burden", "-not_known", "support_ends", "-hours_down",
    "-findings",
)  # fmt: skip
REVIEW_ORDER = (*REVIEW_STEPS, "asset_number")
STEP_COLUMNS = tuple(step.removeprefix("-") for step in REVIEW_STEPS)


class KeptDueDateQuerySet(SiteScopedQuerySet):
    def found_by(self, text):
        """Keep what is on a machine whose asset number, serial, model or place contains `text`."""
        return on_found(self, machines_found(text))


class KeptReviewQuerySet(SiteScopedQuerySet):
    def not_of(self, day):
        """Return the rows that are no review of `day`."""
        return self.filter(Q(day=None) | Q(day__lt=day) | Q(day__gt=day))

    def by_place(self):
        """Return the steps of each place, worst first, with its machines, the first of them, and those provisional."""
        grouped = self.order_by().values_list(*STEP_COLUMNS).order_by(*REVIEW_STEPS)
        return grouped.annotate(
            number=Count("*"), first=Min("asset_number"), provisional=Count("conclusion", filter=Q(is_provisional=True))
        )
