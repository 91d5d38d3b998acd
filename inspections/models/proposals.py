"""Decisions that one person proposed and another must confirm."""

from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from fleet.models import Machine, Person, Site
from inspections.errors import RecordFrozen
from inspections.models.confirmations import LimitConfirmation
from inspections.models.findings import Finding
from inspections.models.inspections import Inspection
from inspections.models.interval_dossiers import IntervalDossier
from inspections.models.limits import LimitOverride
from inspections.models.procedure_drafts import ProcedureDraft
from inspections.models.querysets.proposals import ProposalQuerySet


class Proposal(models.Model):
    """What somebody wants to do, why, and what the page showed then. Nothing is done before another person confirms.

    act, asked   which decision, and what it was asked for with, fit for JSON
    subject      what it is about; one proposal at a time waits about one subject
    site         where it belongs; none for what reaches every site: a limit of a model, a procedure, an interval
    grounds      what the page showed to who proposed it (inspections/deciding/grounds); it is refused when that changed
    """

    class Act(models.TextChoices):
        RELEASE = "release", "Release of a machine"
        AMENDMENT = "amendment", "Amendment of a record"
        CLOSING = "closing", "Closing of an essential finding"
        LIMIT = "limit", "New limit"
        LIMIT_END = "limit end", "End of a limit"
        CONFIRM = "confirm", "Confirmation of a limit"
        UNCONFIRM = "unconfirm", "Withdrawal of a confirmation"
        PROCEDURE = "procedure", "New version of a procedure"
        INTERVAL = "interval", "Interval by evidence"
        POLICY = "policy", "Policy of dossiers"

    class State(models.TextChoices):
        WAITING = "waiting", "Waiting for a second person"
        CONFIRMED = "confirmed", "Confirmed"
        DECLINED = "declined", "Declined"
        TAKEN_BACK = "taken back", "Taken back"

    PERMISSIONS = {
        Act.RELEASE: "fleet.release_machine",
        Act.AMENDMENT: "inspections.amend_inspection",
        Act.CLOSING: "inspections.close_finding",
        Act.LIMIT: "inspections.add_limitoverride",
        Act.LIMIT_END: "inspections.add_limitoverride",
        Act.CONFIRM: "inspections.add_limitoverride",
        Act.UNCONFIRM: "inspections.add_limitoverride",
        Act.PROCEDURE: "inspections.add_procedureversion",
        Act.INTERVAL: "inspections.add_procedureversion",
        Act.POLICY: "inspections.add_procedureversion",
    }

    act = models.CharField(max_length=12, choices=Act)
    subject = models.CharField(max_length=120)
    title = models.CharField(max_length=300)
    site = models.ForeignKey(Site, models.PROTECT, null=True, related_name="proposals")
    machine = models.ForeignKey(Machine, models.PROTECT, null=True, related_name="proposals")
    inspection = models.ForeignKey(Inspection, models.PROTECT, null=True, related_name="proposals")
    finding = models.ForeignKey(Finding, models.PROTECT, null=True, related_name="proposals")
    limit = models.ForeignKey(LimitOverride, models.PROTECT, null=True, related_name="proposals")
    confirmation = models.ForeignKey(LimitConfirmation, models.PROTECT, null=True, related_name="proposals")
    draft = models.ForeignKey(ProcedureDraft, models.PROTECT, null=True, related_name="proposals")
    dossier = models.ForeignKey(IntervalDossier, models.PROTECT, null=True, related_name="proposals")
    asked = models.JSONField(default=dict)
    reason = models.CharField(max_length=300)
    why = models.CharField(max_length=500, help_text="Why a second person is needed.")
    grounds = models.JSONField()
    digest = models.CharField(max_length=64, help_text="SHA-256 of the grounds.")
    proposed_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    proposed_at = models.DateTimeField()
    state = models.CharField(max_length=12, choices=State, default=State.WAITING)
    settled_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    settled_at = models.DateTimeField(null=True)
    settled_reason = models.CharField(max_length=300, blank=True)

    objects = ProposalQuerySet.as_manager()

    class Meta:
        ordering = ["-proposed_at", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["subject"], condition=Q(state="waiting"), name="proposal_one_waits"),
            models.CheckConstraint(condition=~Q(reason=""), name="proposal_has_reason"),
            models.CheckConstraint(
                condition=~Q(state="confirmed") | (Q(settled_by__isnull=False) & ~Q(settled_by=F("proposed_by"))),
                name="proposal_confirmed_by_another",
            ),
            models.CheckConstraint(
                condition=Q(state="waiting", settled_at__isnull=True)
                | (~Q(state="waiting") & Q(settled_at__isnull=False)),
                name="proposal_settled_once",
            ),
        ]
        indexes = [models.Index(fields=["state", "act"], name="proposal_by_state")]

    def __str__(self):
        return self.title

    def save(self, *args, **kwargs):
        if not self._state.adding:
            raise RecordFrozen(f"Proposal {self.pk} cannot be changed. It can be confirmed, declined or taken back.")
        super().save(*args, **kwargs)

    def get_absolute_url(self):
        return reverse("inspections:proposal", args=[self.pk])

    @property
    def is_waiting(self):
        return self.state == self.State.WAITING
