"""In which area a machine was, day by day."""

from django.db import models
from django.db.models import F, Q

from fleet.models.machines import Machine
from fleet.models.places import Area
from fleet.models.querysets.area_periods import AreaPeriodQuerySet


class AreaPeriod(models.Model):
    """A period in which a machine was in one area.

    The periods of a machine follow each other without a gap from its first day of use. `until_date` is the first day
    after the period, empty for the last one, whose area is the machine's own. Actions write them in one place,
    fleet/actions/area_periods.py, which holds the machine meanwhile: two periods never overlap.
    """

    span = ("from_date", "until_date")

    machine = models.ForeignKey(Machine, models.CASCADE, related_name="area_periods", db_index=False)
    area = models.ForeignKey(Area, models.PROTECT, related_name="periods")
    from_date = models.DateField()
    until_date = models.DateField(null=True, blank=True, editable=False)
    evidence = models.CharField(max_length=300, help_text="How it is known that the machine was there.")
    by = models.ForeignKey("fleet.Person", models.PROTECT, null=True, related_name="+")
    recorded_at = models.DateTimeField()

    objects = AreaPeriodQuerySet.as_manager()

    class Meta:
        ordering = ["-from_date", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(until_date__isnull=True) | Q(until_date__gt=F("from_date")), name="area_period_in_order"
            ),
            models.UniqueConstraint(fields=["machine", "from_date"], name="area_period_begins_once"),
            models.UniqueConstraint(fields=["machine", "until_date"], name="area_period_ends_once"),
            models.UniqueConstraint(
                fields=["machine"], condition=Q(until_date__isnull=True), name="area_period_one_open"
            ),
        ]

    def __str__(self):
        return f"{self.machine} in {self.area} from {self.from_date}"
