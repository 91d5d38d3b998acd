"""The evidence on which an interval rests, frozen, with who drafted and who approved it."""

from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from fleet.models import MachineModel, Person
from inspections.models.planning_rules import PlanningRule
from inspections.models.procedures import Procedure
from inspections.models.querysets.interval_dossiers import IntervalDossierQuerySet


class IntervalDossier(models.Model):
    """Why a procedure may be planned at another interval on a machine model: data, bound, hours, what would reverse it.

    machine_model  None for every model
    evidence       what the records showed on `as_of` and what follows, frozen (inspections/schedule/interval_data.py)
    digest         SHA-256 of the evidence
    most_share     the most that the upper bound of the mean share of time with a standing hidden failure may be
    rule           the planning rule that it became;  replaced, the rule for the same machines that this one ended
    watched_on, watched_share  when the bound was last computed again, and what it was then
    """

    class State(models.TextChoices):
        DRAFT = "draft", "Draft"
        IN_FORCE = "in force", "In force"
        WITHDRAWN = "withdrawn", "Withdrawn by itself"
        ENDED = "ended", "Ended"
        DISCARDED = "discarded", "Discarded"

    procedure = models.ForeignKey(Procedure, models.PROTECT, related_name="dossiers")
    machine_model = models.ForeignKey(MachineModel, models.PROTECT, null=True, blank=True, related_name="+")
    interval_months = models.PositiveSmallIntegerField()
    window_days = models.PositiveSmallIntegerField()
    data_from = models.DateField()
    as_of = models.DateField()
    policy = models.CharField(max_length=20)
    most_share = models.FloatField()
    confidence = models.FloatField()
    reason = models.CharField(max_length=300)
    evidence = models.JSONField()
    digest = models.CharField(max_length=64)
    state = models.CharField(max_length=12, choices=State, default=State.DRAFT)
    drafted_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    drafted_at = models.DateTimeField()
    approved_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    approved_at = models.DateTimeField(null=True)
    rule = models.OneToOneField(PlanningRule, models.PROTECT, null=True, related_name="dossier")
    replaced = models.ForeignKey(PlanningRule, models.PROTECT, null=True, related_name="+")
    ended_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    ended_at = models.DateTimeField(null=True)
    ended_reason = models.CharField(max_length=300, blank=True)
    watched_on = models.DateField(null=True)
    watched_share = models.FloatField(null=True)

    objects = IntervalDossierQuerySet.as_manager()

    class Meta:
        ordering = ["-drafted_at", "-pk"]
        constraints = [
            models.CheckConstraint(condition=Q(interval_months__gte=1), name="dossier_interval"),
            models.CheckConstraint(condition=Q(as_of__gte=F("data_from")), name="dossier_data_in_order"),
            models.CheckConstraint(
                condition=Q(most_share__gt=0, most_share__lt=1, confidence__gt=0.5, confidence__lt=1),
                name="dossier_policy",
            ),
            models.CheckConstraint(
                condition=Q(approved_by=None, rule=None)
                | (Q(approved_by__isnull=False, rule__isnull=False) & ~Q(approved_by=F("drafted_by"))),
                name="dossier_approved_by_another",
            ),
            models.CheckConstraint(
                condition=~Q(state__in=("in force", "withdrawn", "ended")) | Q(approved_by__isnull=False),
                name="dossier_in_force_is_approved",
            ),
            models.CheckConstraint(
                condition=Q(state__in=("draft", "in force"), ended_at=None)
                | (~Q(state__in=("draft", "in force")) & Q(ended_at__isnull=False) & ~Q(ended_reason="")),
                name="dossier_ends_with_reason",
            ),
        ]

    def __str__(self):
        return f"Dossier {self.pk}: {self.procedure} every {self.interval_months} months on {self.scope_words}"

    def get_absolute_url(self):
        return reverse("inspections:interval_dossier", args=[self.pk])

    @property
    def scope_words(self):
        return str(self.machine_model) if self.machine_model else "all machine models"

    @property
    def is_draft(self):
        return self.state == self.State.DRAFT

    @property
    def is_in_force(self):
        return self.state == self.State.IN_FORCE
