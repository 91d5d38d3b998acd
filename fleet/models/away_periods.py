"""Machines that are away: lent to somebody, or at a repair outside."""

from django.db import models
from django.db.models import F, Q

from fleet.models.machines import Machine
from fleet.models.querysets.away_periods import AwayPeriodQuerySet


class AwayKind(models.TextChoices):
    LENT = "lent", "Lent"
    OUTSIDE_REPAIR = "outside repair", "Outside repair"


class AwayPeriod(models.Model):
    """A loan or an outside repair. The machine stays in the register with its status and its area; it is not there.

    expected_on  day on which it is expected back; changed with a reason
    returned_on  day on which it came back; empty while it is away
    """

    machine = models.ForeignKey(Machine, models.CASCADE, related_name="away_periods")
    kind = models.CharField("what for", max_length=20, choices=AwayKind)
    to_whom = models.CharField("to whom", max_length=120, help_text="The department, hospital or workshop, and a name.")
    from_date = models.DateField("away from")
    expected_on = models.DateField("expected back on")
    reason = models.CharField(max_length=300)
    note = models.CharField(max_length=300, blank=True, help_text="Such as what went with it, or an order number.")
    by = models.ForeignKey("fleet.Person", models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()
    returned_on = models.DateField("came back on", null=True, blank=True)
    return_note = models.CharField("condition on return", max_length=300, blank=True)
    returned_by = models.ForeignKey("fleet.Person", models.PROTECT, null=True, related_name="+")
    returned_at = models.DateTimeField(null=True)

    objects = AwayPeriodQuerySet.as_manager()

    class Meta:
        ordering = ["-from_date", "-pk"]
        constraints = [
            models.CheckConstraint(condition=Q(kind__in=AwayKind.values), name="away_kind_known"),
            models.CheckConstraint(condition=~Q(reason="") & ~Q(to_whom=""), name="away_says_whom_and_why"),
            models.CheckConstraint(condition=Q(expected_on__gte=F("from_date")), name="away_expected_after_start"),
            models.CheckConstraint(
                condition=Q(returned_on__isnull=True, returned_at__isnull=True)
                | Q(returned_on__gte=F("from_date"), returned_at__isnull=False),
                name="away_returned_in_order",
            ),
            models.UniqueConstraint(
                fields=["machine"], condition=Q(returned_on__isnull=True), name="away_once_at_a_time"
            ),
        ]
        indexes = [models.Index(fields=["expected_on"], name="away_by_expected", condition=Q(returned_on__isnull=True))]

    def __str__(self):
        return f"{self.machine}, {self.get_kind_display().lower()}: {self.to_whom}"

    @property
    def is_over(self):
        return self.returned_on is not None

    def is_overdue(self, today):
        """Whether it should have been back before `today`."""
        return not self.is_over and self.expected_on < today
