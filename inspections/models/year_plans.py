"""Proposed plans of a year: drafts that a planner accepts, and what each proposes for an inspection."""

from django.db import models
from django.db.models import Q
from django.urls import reverse

from fleet.models import Person
from inspections.models.inspections import Inspection
from inspections.models.querysets.year_plans import ProposedDayQuerySet, YearPlanQuerySet


class YearPlan(models.Model):
    """A plan as it was computed. It books nothing until somebody accepts it; a later plan of the person replaces it."""

    class State(models.TextChoices):
        PROPOSED = "proposed", "Proposed"
        ACCEPTED = "accepted", "Accepted"
        REPLACED = "replaced", "Replaced"

    by = models.ForeignKey(Person, models.CASCADE, related_name="year_plans")
    made_at = models.DateTimeField()
    first_day = models.DateField()
    last_day = models.DateField()
    gap = models.FloatField(help_text="The share by which it may be worse than the best plan, 0 to 1.")
    is_exact = models.BooleanField(default=False)
    seconds = models.FloatField(default=0)
    state = models.CharField(max_length=10, choices=State, default=State.PROPOSED)
    settled_at = models.DateTimeField(null=True)

    objects = YearPlanQuerySet.as_manager()

    class Meta:
        ordering = ["-made_at", "-pk"]

    def __str__(self):
        return f"Plan {self.pk}"

    def get_absolute_url(self):
        return reverse("inspections:year_plan")

    @property
    def gap_percent(self):
        return 100 * self.gap

    @property
    def is_proposed(self):
        return self.state == self.State.PROPOSED


class ProposedDay(models.Model):
    """What a plan says of one inspection: a technician and a day, or why there is none and what would free it."""

    plan = models.ForeignKey(YearPlan, models.CASCADE, related_name="proposed_days")
    inspection = models.ForeignKey(Inspection, models.CASCADE, related_name="+")
    technician = models.ForeignKey(Person, models.CASCADE, null=True, related_name="+")
    day = models.DateField(null=True)
    minutes = models.PositiveSmallIntegerField()
    binding = models.CharField(max_length=40, blank=True, help_text="The rule that leaves it without a day.")
    reason = models.CharField(max_length=500, blank=True)
    remedy = models.CharField(max_length=300, blank=True)

    objects = ProposedDayQuerySet.as_manager()

    class Meta:
        ordering = ["day", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["plan", "inspection"], name="proposed_day_once_per_plan"),
            models.CheckConstraint(
                condition=Q(technician__isnull=False, day__isnull=False, binding="")
                | (Q(technician__isnull=True, day__isnull=True) & ~Q(binding="")),
                name="proposed_day_or_reason",
            ),
        ]

    def __str__(self):
        return f"Proposal for {self.inspection_id}"
