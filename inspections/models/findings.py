"""Findings: something wrong that must be dealt with."""

from django.db import models
from django.db.models import Q

from fleet.models import ApiToken, Machine, MachineStatus, Person
from fleet.models.attribution import author_in_words
from fleet.web.key_addresses import key_address
from inspections.models.inspections import InspectionStep
from inspections.models.querysets.findings import FindingQuerySet
from inspections.models.readings import Result
from inspections.planning.failure_codes import CODES


class Severity(models.TextChoices):
    ESSENTIAL = "essential", "Essential: the machine must not be used"
    OTHER = "other", "Other: to be dealt with"


class FoundHow(models.TextChoices):
    """What brought a finding to light."""

    INSPECTION = "inspection", "Inspection"
    DAILY_CHECK = "daily check", "Daily check"
    USER_REPORT = "user report", "Report of a user"
    DURING_USE = "during use", "During use on a patient"
    RECALL = "recall", "Recall or safety notice"
    OTHER = "other", "Other"


class Finding(models.Model):
    """From a failed result, an essential step that was not tested, a fault report, or a circuit that contradicts the
    record, or a machine that could not be located. Open until closed with a note.

    `code` says why it was wrong, by inspections/planning/failure_codes.toml; empty for what is not coded yet, and for
    what was closed without one.
    `contradiction` identifies those of the last kind: feature, recorded state, state in the circuit.
    """

    class Origin(models.TextChoices):
        RESULT = "failed outcome", "Failed result"
        NOT_PROVED = "not proved", "Result not proved"
        FAULT = "fault report", "Fault report"
        CIRCUIT = "circuit", "Circuit contradicts record"
        NOT_TESTED = "not tested", "Essential step not tested"
        NOTICE = "notice", "Safety notice"
        NOT_LOCATED = "not located", "Could not be located"
        ALTERED = "altered", "Machine altered"

    machine = models.ForeignKey(Machine, models.PROTECT, related_name="findings")
    origin = models.CharField(max_length=20, choices=Origin)
    result = models.ForeignKey(
        Result, models.PROTECT, null=True, blank=True, related_name="findings", db_column="outcome_id"
    )
    step = models.ForeignKey(
        InspectionStep, models.PROTECT, null=True, blank=True, related_name="+",
        help_text="The essential step that proved nothing, for a finding from an incomplete inspection.",
    )  # fmt: skip
    severity = models.CharField(max_length=10, choices=Severity)
    title = models.CharField(max_length=200)
    description = models.TextField(blank=True)
    contradiction = models.CharField(max_length=120, blank=True, editable=False)
    opened_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    token = models.ForeignKey(
        ApiToken, models.PROTECT, null=True, blank=True, related_name="+", db_index=False,
        help_text="The token of `opened_by` with which a program reported it; empty for what the person reported.",
    )  # fmt: skip
    opened_at = models.DateTimeField()
    closed_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    closed_at = models.DateTimeField(null=True)
    closing_note = models.TextField(blank=True)
    code = models.CharField("code", max_length=40, blank=True, help_text="Why it was wrong, by the codes of findings.")
    cause = models.CharField(max_length=300, blank=True)
    found_how = models.CharField("found by", max_length=20, choices=FoundHow, blank=True)
    work_hours = models.DecimalField(max_digits=6, decimal_places=1, null=True, blank=True)

    objects = FindingQuerySet.as_manager()

    class Meta:
        ordering = ["-opened_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(closed_at__isnull=True) | ~Q(closing_note=""), name="finding_closed_with_note"
            ),
            models.CheckConstraint(condition=Q(code="") | ~Q(found_how=""), name="finding_coded_says_how_found"),
            models.UniqueConstraint(fields=["result"], name="finding_once_per_outcome"),
            models.UniqueConstraint(fields=["step"], name="finding_once_per_untested_step"),
            models.CheckConstraint(
                condition=~Q(origin="not tested") | Q(step__isnull=False), name="finding_not_tested_has_step"
            ),
            models.UniqueConstraint(
                fields=["machine", "contradiction"],
                condition=Q(closed_at__isnull=True) & ~Q(contradiction=""),
                name="finding_once_per_contradiction",
            ),
        ]
        indexes = [
            models.Index(fields=["machine", "closed_at"], name="finding_by_machine"),
            # The open ones, the essential and newest first: few beside those that were ever closed.
            models.Index(
                fields=["severity", "-opened_at", "-id", "machine"], name="finding_open_worst_first",
                condition=models.Q(closed_at__isnull=True),
            ),
        ]  # fmt: skip
        permissions = [("close_finding", "Can close findings")]

    def __str__(self):
        return self.title

    def get_absolute_url(self):
        return key_address("inspections:finding", self.pk)

    @property
    def author(self):
        """Who reported it, in words; empty for what Bobbin found itself."""
        return author_in_words(self.opened_by, self.token)

    @property
    def is_open(self):
        return self.closed_at is None

    @property
    def failure_code(self):
        """The code with its meaning, None for what is not coded or bears a code that is no longer there."""
        return CODES.get(self.code)

    @property
    def is_essential(self):
        return self.severity == Severity.ESSENTIAL

    @property
    def repeated_step(self):
        """The step that a retest has to repeat: of the failed result, or the one that was not tested; else None."""
        return self.result.step if self.result else self.step

    @property
    def awaits_withdrawal(self):
        """Whether somebody must decide: see `FindingQuerySet.awaiting_withdrawal`."""
        is_urgent = self.is_open and self.is_essential and self.machine.status == MachineStatus.IN_SERVICE
        return is_urgent and not self.passes_as_left

    @property
    def passes_as_left(self):
        """Whether it failed as found and passes as left in the same inspection."""
        if self.result is None or self.result.step.is_last:
            return False
        return Finding.objects.passed_as_left().filter(pk=self.pk).exists()
