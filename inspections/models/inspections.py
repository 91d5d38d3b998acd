"""Inspections, their stages and their steps."""

from django.apps import apps
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from fleet.catalogue import GASES
from fleet.models import Machine, Person
from fleet.web.key_addresses import key_address
from inspections.bench.decision_words import INCOMPLETE, inspection_words
from inspections.errors import StageRefused
from inspections.models.procedures import Procedure, ProcedureVersion
from inspections.models.querysets.inspections import (
    OPEN_STAGES,
    SIGNED_STAGES,
    InspectionQuerySet,
    InspectionStepQuerySet,
)

MOST_MINUTES = 24 * 60


class Stage(models.TextChoices):
    PLANNED = "planned", "Planned"
    BOOKED = "booked", "Booked"
    IN_PROGRESS = "on bench", "In progress"
    SIGNED = "signed", "Signed"
    COUNTERSIGNED = "countersigned", "Countersigned"
    VOID = "void", "Void"


def stage_in_words(stage):
    """Return the label of a stored stage as it is written in a sentence: “in progress” for "on bench"."""
    return str(Stage(stage).label).lower()


NEXT_STAGES = {
    Stage.PLANNED: {Stage.BOOKED, Stage.IN_PROGRESS, Stage.VOID},
    Stage.BOOKED: {Stage.PLANNED, Stage.BOOKED, Stage.IN_PROGRESS, Stage.VOID},
    Stage.IN_PROGRESS: {Stage.SIGNED, Stage.VOID},
    Stage.SIGNED: {Stage.COUNTERSIGNED},
    Stage.COUNTERSIGNED: set(),
    Stage.VOID: set(),
}


class Inspection(models.Model):
    """One procedure carried out on one machine."""

    machine = models.ForeignKey(Machine, models.PROTECT, related_name="inspections")
    procedure = models.ForeignKey(Procedure, models.PROTECT, related_name="inspections", db_index=False)
    version = models.ForeignKey(
        ProcedureVersion,
        models.PROTECT,
        null=True,
        related_name="inspections",
        help_text="Set when the inspection starts.",
    )
    stage = models.CharField(max_length=14, choices=Stage, default=Stage.PLANNED, editable=False)
    due_on = models.DateField()
    opens_on = models.DateField(help_text="First day of the due window.")
    closes_on = models.DateField(help_text="Last day of the due window; overdue after it.")
    booked_on = models.DateField(null=True, blank=True)
    technician = models.ForeignKey(
        Person, models.PROTECT, null=True, blank=True, related_name="inspections", db_index=False
    )
    planned_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    planned_at = models.DateTimeField()
    booked_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    booked_at = models.DateTimeField(null=True)
    note = models.CharField(max_length=300, blank=True)
    retests = models.ManyToManyField(
        "inspections.Finding",
        blank=True,
        related_name="retested_by",
        help_text="Findings that this inspection retests.",
    )

    ambient_kpa_abs = models.FloatField(
        "ambient pressure (kPa abs)", null=True, blank=True, validators=[MinValueValidator(45), MaxValueValidator(110)]
    )
    temperature_c = models.FloatField(
        "temperature (°C)", default=20, validators=[MinValueValidator(5), MaxValueValidator(45)]
    )
    units = models.JSONField(
        default=dict,
        blank=True,
        help_text="Units chosen at its start, by dimension or group of units; what is not among them is asked for as "
        "each test declares it.",
    )
    opened_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    opened_at = models.DateTimeField(null=True)
    signed_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="signed_inspections")
    signed_at = models.DateTimeField(null=True)
    countersigned_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    countersigned_at = models.DateTimeField(null=True)
    minutes = models.PositiveSmallIntegerField(
        "minutes of work", null=True, blank=True, validators=[MinValueValidator(1), MaxValueValidator(MOST_MINUTES)]
    )
    voided_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    voided_at = models.DateTimeField(null=True)
    void_reason = models.CharField(max_length=300, blank=True)

    objects = InspectionQuerySet.as_manager()

    class Meta:
        ordering = ["due_on", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(stage__in=Stage.values), name="inspection_stage_known"),
            models.CheckConstraint(
                condition=Q(stage__in=SIGNED_STAGES, signed_at__isnull=False, signed_by__isnull=False)
                | (~Q(stage__in=SIGNED_STAGES) & Q(signed_at__isnull=True)),
                name="inspection_signed_by_someone",
            ),
            models.CheckConstraint(
                condition=~Q(stage="countersigned")
                | (Q(countersigned_by__isnull=False) & ~Q(countersigned_by=F("signed_by"))),
                name="inspection_countersigned_by_another",
            ),
            models.CheckConstraint(condition=~Q(stage="void") | ~Q(void_reason=""), name="inspection_void_has_reason"),
            models.CheckConstraint(
                condition=Q(stage__in=("planned", "void")) | Q(technician__isnull=False),
                name="inspection_has_technician",
            ),
            models.CheckConstraint(
                condition=~Q(stage__in=("on bench", *SIGNED_STAGES)) | Q(version__isnull=False),
                name="inspection_on_bench_has_version",
            ),
            models.CheckConstraint(
                condition=Q(minutes=None) | Q(minutes__gte=1, minutes__lte=MOST_MINUTES),
                name="inspection_minutes_in_a_day",
            ),
        ]
        indexes = [
            # With all that counts and orders of open work read, so that the table itself is not.
            models.Index(
                fields=["stage", "due_on", "closes_on", "machine", "procedure", "booked_on", "technician"],
                name="inspection_open_by_due",
            ),
            models.Index(fields=["stage", "closes_on", "due_on", "machine"], name="inspection_open_by_end"),
            models.Index(
                fields=["booked_on", "stage", "technician", "machine"],
                name="inspection_by_booking",
                condition=Q(booked_on__isnull=False),
            ),
            models.Index(
                fields=["signed_at", "id", "stage"],
                name="inspection_by_signature",
                condition=Q(signed_at__isnull=False),
            ),
            # What awaits a second signature, by day, without what a person signed.
            models.Index(
                fields=["stage", "signed_at", "id", "signed_by", "machine", "procedure", "due_on"],
                name="inspection_to_countersign",
                condition=Q(signed_at__isnull=False),
            ),
            models.Index(
                fields=["stage", "booked_on", "technician", "machine", "due_on"], name="inspection_booked_by_day"
            ),
            # With all that the work list counts, when it is narrowed to some machines, a procedure or a technician.
            models.Index(
                fields=["machine", "stage", "signed_at", "due_on", "closes_on", "signed_by"],
                name="inspection_by_machine",
            ),
            models.Index(
                fields=["procedure", "stage", "due_on", "closes_on", "machine", "signed_at", "signed_by"],
                name="inspection_by_procedure",
            ),
            models.Index(
                fields=["technician", "stage", "due_on", "closes_on", "machine", "signed_at", "signed_by"],
                name="inspection_by_technician",
            ),
            models.Index(fields=["machine", "procedure", "due_on"], name="inspection_of_due_date"),
        ]
        permissions = [
            ("plan_inspection", "Can plan and book inspections"),
            ("enter_reading", "Can enter readings on the bench"),
            ("sign_inspection", "Can sign inspections"),
            ("countersign_inspection", "Can countersign inspections"),
            ("amend_inspection", "Can amend signed inspections"),
            ("void_inspection", "Can void inspections"),
        ]

    def __str__(self):
        return f"Inspection {self.pk}"

    def save(self, *args, **kwargs):
        known = getattr(self, "_stage_in_database", None)
        if known is not None and self.stage != known:
            was, now = stage_in_words(known), self.stage_word
            raise StageRefused(f"{self} is {was}. Its stage changes by an action, not by saving it as {now}.")
        super().save(*args, **kwargs)

    def get_absolute_url(self):
        return key_address("inspections:inspection", self.pk)

    @classmethod
    def from_db(cls, db, field_names, values):
        instance = super().from_db(db, field_names, values)
        instance._stage_in_database = instance.__dict__.get("stage")
        return instance

    @property
    def is_open(self):
        return self.stage in OPEN_STAGES

    @property
    def can_be_booked(self):
        return Stage.BOOKED in NEXT_STAGES[self.stage]

    @property
    def is_signed(self):
        return self.stage in SIGNED_STAGES

    @property
    def stage_word(self):
        return stage_in_words(self.stage)

    @property
    def is_incomplete(self):
        """Whether it is signed although an essential step that applies proves nothing."""
        if "found_incomplete" in self.__dict__:
            return self.found_incomplete
        return self.is_signed and self.steps.essential_untested().exists()

    @property
    def stage_label(self):
        """The stage as lists and records show it: “Signed”, or “Signed, incomplete”."""
        return f"{self.get_stage_display()}, {INCOMPLETE}" if self.is_incomplete else self.get_stage_display()

    @property
    def result_words(self):
        """The result of a signed inspection: “incomplete”, the worst decision, or both; empty before the signature."""
        if not self.is_signed:
            return ""
        if "found_worst" in self.__dict__:
            results = [(self.found_worst or "", not self.found_unconfirmed)]
        else:
            results = apps.get_model("inspections", "Result").objects.that_decide(self)
            results = list(results.values_list("decision", "limit_confirmed").distinct())
        return inspection_words(results, is_complete=not self.is_incomplete)

    @property
    def is_in_progress(self):
        return self.stage == Stage.IN_PROGRESS

    @property
    def ambient_pa_abs(self):
        """As measured on the day, else the standard atmosphere at the site's altitude; Pa absolute."""
        if self.ambient_kpa_abs is not None:
            return self.ambient_kpa_abs * 1000
        return self.machine.site.ambient_pa_abs

    def is_overdue(self, today):
        return self.is_open and self.closes_on < today


class InspectionStep(models.Model):
    """One step of an inspection: a test on a subject, such as the supply failure of nitrous oxide.

    `content` is the step as the procedure version had it. A step that does not apply stays, with the reason.
    """

    inspection = models.ForeignKey(Inspection, models.CASCADE, related_name="steps")
    position = models.PositiveSmallIntegerField()
    code = models.SlugField(max_length=60, db_index=False)
    title = models.CharField(max_length=160)
    test_code = models.SlugField(max_length=40, db_index=False)
    subject = models.CharField(max_length=80, blank=True)
    component = models.ForeignKey("fleet.Component", models.PROTECT, null=True, related_name="+")
    is_essential = models.BooleanField(default=False)
    content = models.JSONField()
    applies = models.BooleanField(default=True)
    absence = models.CharField(max_length=300, blank=True, help_text="Why the step does not apply.")
    not_tested_reason = models.CharField(max_length=300, blank=True)
    as_left_of = models.ForeignKey(
        "self",
        models.CASCADE,
        null=True,
        db_index=False,
        related_name="as_left_sets",
        help_text="The set of readings as found, for a set that was taken after a repair or an adjustment.",
    )
    set_number = models.PositiveSmallIntegerField(default=1)
    is_last = models.BooleanField(
        default=True, help_text="Whether no further set was begun. Decisions about the inspection rest on the last set."
    )
    work_done = models.CharField(max_length=300, blank=True, help_text="What was done before this set was taken.")
    is_own_work = models.BooleanField(
        default=False, help_text="Whether the work was on what the step tests, not on something else that calls for it."
    )
    begun_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    begun_at = models.DateTimeField(null=True)

    objects = InspectionStepQuerySet.as_manager()

    class Meta:
        ordering = ["position", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["inspection", "code", "subject"], name="step_once_per_subject"),
            models.CheckConstraint(condition=Q(applies=True) | ~Q(absence=""), name="step_absence_has_reason"),
            models.CheckConstraint(
                condition=Q(as_left_of=None, set_number=1)
                | (Q(as_left_of__isnull=False, set_number__gt=1, begun_by__isnull=False) & ~Q(work_done="")),
                name="step_as_left_after_work",
            ),
            models.UniqueConstraint(fields=["as_left_of", "set_number"], name="step_set_once"),
            models.UniqueConstraint(fields=["as_left_of"], condition=Q(is_last=True), name="step_one_last_set"),
        ]
        # The few with a later set: whose findings need not lead to a withdrawal.
        indexes = [models.Index(fields=["inspection"], condition=Q(is_last=False), name="step_with_later_set")]

    def __str__(self):
        name = f"{self.title}: {self.subject_name}" if self.subject else self.title
        return f"{name}, {self.set_words}" if self.state else name

    def get_absolute_url(self):
        return reverse("inspections:bench_step", args=[self.inspection_id, self.pk])

    def following(self):
        """The next step that applies, None after the last."""
        later = Q(position__gt=self.position) | Q(position=self.position, pk__gt=self.pk)
        return self.inspection.steps.that_apply().filter(later).first()

    @property
    def state(self):
        """“as found” or “as left”; empty for a step with a single set of readings."""
        if self.set_number == 1:
            return "" if self.is_last else "as found"
        return "as left"

    @property
    def set_words(self):
        """The state, with the number of a third and later set."""
        return f"{self.state}, set {self.set_number}" if self.set_number > 2 else self.state

    @property
    def holds_anything(self):
        """Whether any row refers to it: a reading, also a corrected one, a mark, a note, a replaced component."""
        fields = self._meta.get_fields(include_hidden=True)
        relations = [one for one in fields if one.auto_created and not one.concrete]
        return any(one.related_model._base_manager.filter(**{one.field.name: self.pk}).exists() for one in relations)

    @property
    def first_set_id(self):
        """What all sets of readings of one step in one inspection share: the key of the first."""
        return self.as_left_of_id or self.pk

    @property
    def subject_name(self):
        """The subject in words: a gas by its name, a part by its label."""
        return GASES[self.subject].name.lower() if self.subject in GASES else self.subject

    @property
    def is_check(self):
        """Whether it is a statement to be confirmed."""
        return "item" in self.content and self.test_code == "observation"

    @property
    def what(self):
        """What makes two steps of different inspections the same test: test, subject, item looked at, choices fixed."""
        fixed = tuple(sorted(self.content.get("choices", {}).items()))
        return (self.test_code, self.subject, self.content.get("item", ""), fixed)
