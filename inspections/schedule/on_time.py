"""The figures of the work: what is due, what is overdue, and the share done on time."""

from dataclasses import dataclass
from datetime import timedelta

from dateutil.relativedelta import relativedelta
from django.db.models import Count, Exists, F, OuterRef, Q

from fleet.models import Site
from inspections.models import Inspection
from inspections.models.querysets.inspections import SIGNED_STAGES
from inspections.schedule.settled import settled_counts

ON_TIME_MONTHS = 12
DUE_DAYS = 30


@dataclass(frozen=True, slots=True)
class WorkFigures:
    """Counts of open work, and of what was due within ON_TIME_MONTHS.

    signed      complete, or settled by an inspection that contains it; on_time of them on or before the last day of the
                window; early, before its first day
    incomplete  signed, but an essential step proves nothing, and its due date is met by no other inspection
    voided      void, window past, and its due date is met by no other inspection
    """

    due: int
    overdue: int
    signed: int
    on_time: int
    early: int = 0
    incomplete: int = 0
    voided: int = 0

    @property
    def counted(self):
        """Of what the share is taken: every due date that was met, missed, left incomplete or voided."""
        return self.signed + self.overdue + self.incomplete + self.voided

    @property
    def on_time_percent(self):
        """On time of all that is counted, in per cent; None while there is nothing."""
        return 100 * self.on_time / self.counted if self.counted else None


def work_figures(person, today):
    """Count for the sites that `person` may see, in seven queries.

    On-time share: complete and signed on or before the last day of the due window, of all that was signed in the last
    12 months, all that is overdue today, and all that was voided once its window is past. To void work therefore leaves
    the share as it would be without. Early work counts as on time and is shown. Dates are those of the machine's site.
    """
    inspections = Inspection.objects.visible_to(person)
    zones = list(Site.objects.values_list("time_zone", flat=True).distinct().order_by("time_zone"))
    first = today - relativedelta(months=ON_TIME_MONTHS) + timedelta(days=1)
    signed = inspections.signed_between(first, today, zones).with_signed_on(zones)
    # What is late by any date was signed after its last day began in UTC: only those few need their date at the site.
    late = Q(signed_at__gt=F("closes_on")) & Q(signed_on__gt=F("closes_on"))
    early = Q(signed_on__lt=F("opens_on"))
    complete = signed.filter(pk__in=Inspection.objects.complete().values("pk"))
    counts = complete.aggregate(signed=Count("pk"), late=Count("pk", filter=late), early=Count("pk", filter=early))
    voided = inspections.void().filter(closes_on__lt=today, closes_on__gte=first, settlement=None)
    settled = settled_counts(inspections, first, today)
    return WorkFigures(
        due=inspections.coming(today, DUE_DAYS).count(),
        overdue=inspections.overdue(today).count(),
        signed=counts["signed"] + settled["met"],
        on_time=counts["signed"] - counts["late"] + settled["met"] - settled["late"],
        early=counts["early"],
        incomplete=_not_met_otherwise(signed.incomplete(), today).count(),
        voided=_not_met_otherwise(voided, today).count(),
    )


def _not_met_otherwise(inspections, today):
    """Keep those whose due date is neither met by a complete inspection nor counted as overdue today.

    Of several that left one due date unmet the last counts: one due date counts once.
    """
    same_due = Inspection.objects.filter(
        machine=OuterRef("machine"), procedure=OuterRef("procedure"), due_on=OuterRef("due_on")
    )
    met = same_due.complete() | same_due.overdue(today)
    unmet = Q(stage="void") | Q(stage__in=SIGNED_STAGES)
    return inspections.exclude(Exists(met)).exclude(Exists(same_due.filter(unmet, pk__gt=OuterRef("pk"))))
