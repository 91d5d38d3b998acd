"""The code on the label of a machine, and what people at the machine send by it without a login."""

from django.db import models
from django.db.models import Q
from django.urls import reverse

from fleet.models import Machine, Person
from fleet.photographs.cleaning import digest_of_bytes
from inspections.models.findings import Finding
from inspections.models.label_codes import CODE_LENGTH, new_code
from inspections.models.querysets.labels import (
    FaultPhotographQuerySet,
    FaultReportQuerySet,
    MachineLabelQuerySet,
    UserCheckQuerySet,
)

WHAT_LENGTH, WHERE_LENGTH, NAME_LENGTH, LIST_LENGTH = 2000, 200, 120, 120


class MachineLabel(models.Model):
    """A random code that the label of a machine carries. A lost label gets a new code; the earlier code is then dead.

    Whoever has the code can open the public page of the machine and nothing else, so it is stored as it is printed.
    """

    machine = models.ForeignKey(Machine, models.PROTECT, related_name="labels")
    code = models.CharField(max_length=CODE_LENGTH, unique=True, default=new_code, editable=False)
    issued_by = models.ForeignKey(Person, models.PROTECT, null=True, blank=True, related_name="+")
    issued_at = models.DateTimeField()
    replaced_by = models.ForeignKey(Person, models.PROTECT, null=True, blank=True, related_name="+")
    replaced_at = models.DateTimeField(null=True, blank=True)
    replaced_reason = models.CharField(max_length=300, blank=True)

    objects = MachineLabelQuerySet.as_manager()

    class Meta:
        ordering = ["-issued_at", "-pk"]
        verbose_name = "label"
        constraints = [
            models.UniqueConstraint(fields=["machine"], condition=Q(replaced_at=None), name="label_once_in_force"),
            models.CheckConstraint(
                condition=Q(replaced_at__isnull=True) | ~Q(replaced_reason=""), name="label_replaced_with_reason"
            ),
        ]
        permissions = [("replace_machinelabel", "Can replace the code of a label")]

    def __str__(self):
        return f"label of machine {self.machine} from {self.issued_at:%Y-%m-%d}"

    def get_absolute_url(self):
        """The public page, which asks for no login."""
        return reverse("inspections:label_page", args=[self.code])

    @property
    def is_in_force(self):
        return self.replaced_at is None


class FaultReport(models.Model):
    """A fault reported from the label by somebody without a login. It changes nothing until somebody triages it.

    `key` identifies the form that was sent with its content, so that a repeated one is stored once.
    """

    class State(models.TextChoices):
        WAITING = "waiting", "Waiting for triage"
        FINDING = "finding", "In a finding"
        DISMISSED = "dismissed", "Dismissed"

    machine = models.ForeignKey(Machine, models.PROTECT, related_name="fault_reports")
    label = models.ForeignKey(MachineLabel, models.PROTECT, related_name="+", db_index=False)
    what = models.TextField("what happened", max_length=WHAT_LENGTH)
    where = models.CharField("where the machine is", max_length=WHERE_LENGTH)
    who = models.CharField("who reports it", max_length=NAME_LENGTH)
    key = models.CharField(max_length=64, unique=True, editable=False)
    reported_at = models.DateTimeField()
    state = models.CharField(max_length=10, choices=State, default=State.WAITING, editable=False)
    finding = models.ForeignKey(Finding, models.PROTECT, null=True, blank=True, related_name="fault_reports")
    settled_by = models.ForeignKey(Person, models.PROTECT, null=True, blank=True, related_name="+")
    settled_at = models.DateTimeField(null=True, blank=True)
    reason = models.TextField("why it was dismissed", blank=True)

    objects = FaultReportQuerySet.as_manager()

    class Meta:
        ordering = ["-reported_at", "-pk"]
        verbose_name = "fault report"
        constraints = [
            models.CheckConstraint(
                condition=Q(state="waiting", settled_at__isnull=True, finding__isnull=True)
                | Q(state="finding", settled_at__isnull=False, finding__isnull=False)
                | (Q(state="dismissed", settled_at__isnull=False, finding__isnull=True) & ~Q(reason="")),
                name="fault_report_state_is_whole",
            )
        ]
        indexes = [
            models.Index(fields=["machine", "reported_at"], name="fault_report_by_machine"),
            models.Index(fields=["state", "reported_at"], name="fault_report_by_state"),
        ]
        permissions = [("triage_faultreport", "Can triage fault reports")]

    def __str__(self):
        return f"fault report {self.number}"

    def get_absolute_url(self):
        return reverse("inspections:fault_report_page", args=[self.pk])

    @property
    def number(self):
        return f"F-{self.pk}"

    @property
    def is_waiting(self):
        return self.state == self.State.WAITING


class UserCheck(models.Model):
    """A check that a user of the machine recorded from its label: the name, the check list and the result.

    The check of the first user after service must be recorded. Source: AAGBI, Checking Anaesthetic Equipment 2012,
    Anaesthesia 2012; 67: 660-68 (summary).
    """

    class Kind(models.TextChoices):
        DAILY = "daily", "Daily check"
        FIRST_USER = "first-user", "First-user check after service"

    class Found(models.TextChoices):
        DONE = "done", "Done, no problem found"
        PROBLEM = "problem", "Problem found"

    machine = models.ForeignKey(Machine, models.PROTECT, related_name="user_checks")
    label = models.ForeignKey(MachineLabel, models.PROTECT, related_name="+", db_index=False)
    kind = models.CharField(max_length=10, choices=Kind)
    by_name = models.CharField("name", max_length=NAME_LENGTH)
    check_list = models.CharField(max_length=LIST_LENGTH)
    result = models.CharField(max_length=10, choices=Found)
    note = models.TextField(max_length=WHAT_LENGTH, blank=True)
    key = models.CharField(max_length=64, unique=True, editable=False)
    at = models.DateTimeField()

    objects = UserCheckQuerySet.as_manager()

    class Meta:
        ordering = ["-at", "-pk"]
        verbose_name = "user check"
        indexes = [models.Index(fields=["machine", "kind", "at"], name="user_check_by_machine")]
        constraints = [
            models.CheckConstraint(
                condition=~Q(by_name="") & ~Q(check_list=""), name="user_check_names_person_and_list"
            )
        ]

    def __str__(self):
        return f"{self.get_kind_display()} of machine {self.machine}"

    @property
    def found_problem(self):
        return self.result == self.Found.PROBLEM


class FaultPhotograph(models.Model):
    """The photograph of a fault report, as fleet/photographs cleaned it."""

    report = models.OneToOneField(FaultReport, models.CASCADE, primary_key=True, related_name="photograph")
    content = models.BinaryField()
    digest = models.CharField(max_length=64, help_text="SHA-256 of the content, in hexadecimal.")
    width = models.PositiveSmallIntegerField()
    height = models.PositiveSmallIntegerField()

    objects = FaultPhotographQuerySet.as_manager()

    def __str__(self):
        return f"photograph of {self.report}"

    @property
    def digest_of_content(self):
        return digest_of_bytes(bytes(self.content))

    @property
    def is_intact(self):
        """Whether the content is what arrived; the journal covers the digest."""
        return self.digest_of_content == self.digest
