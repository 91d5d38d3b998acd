"""The figures of the work: what is due, what is overdue, and the share done on time."""

from dataclasses import dataclass
from datetime import timedelta

from dateutil.relativedelta import relativedelta
from django.db.models import Count, F, Q

from fleet.models import Site
from inspections.models import Inspection

ON_TIME_MONTHS = 12
DUE_DAYS = 30


@dataclass(frozen=True, slots=True)
class WorkFigures:
    """Counts of open work, and of what was signed within ON_TIME_MONTHS: on time is on or before the window's end."""

    due: int
    overdue: int
    signed: int
    on_time: int

    @property
    def on_time_percent(self):
        """On time of all that was signed or is overdue now, in per cent; None while there is neither."""
        counted = self.signed + self.overdue
        return 100 * self.on_time / counted if counted else None


def work_figures(person, today):
    """Count for the sites that `person` may see, in four queries.

    On-time share: signed on or before the last day of the due window, of all signed in the last 12 months and all that
    are overdue today. Dates are those of the machine's site.
    """
    inspections = Inspection.objects.visible_to(person)
    zones = list(Site.objects.values_list("time_zone", flat=True).distinct().order_by("time_zone"))
    first = today - relativedelta(months=ON_TIME_MONTHS) + timedelta(days=1)
    signed = inspections.signed_between(first, today, zones).with_signed_on(zones)
    # What is late by any date was signed after its last day began in UTC: only those few need their date at the site.
    late = Q(signed_at__gt=F("closes_on")) & Q(signed_on__gt=F("closes_on"))
    counts = signed.aggregate(signed=Count("pk"), late=Count("pk", filter=late))
    return WorkFigures(
        due=inspections.coming(today, DUE_DAYS).count(),
        overdue=inspections.overdue(today).count(),
        signed=counts["signed"],
        on_time=counts["signed"] - counts["late"],
    )
