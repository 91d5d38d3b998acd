"""Readings as the technician saw them, and the results computed from them."""

from django.db import models
from django.db.models import Q
from django.utils.functional import cached_property

from fleet.models import ApiToken, Instrument, Person
from fleet.models.attribution import author_in_words
from inspections.bench.decision_words import decision_words
from inspections.bench.serialise import result_from_dict
from inspections.errors import RecordFrozen
from inspections.models.inspections import InspectionStep
from inspections.models.querysets.readings import ReadingQuerySet, ResultQuerySet
from inspections.result_display import ShownResult, in_unit_of_place


def repeats_in_words(digits, unit):
    """Return a reading, with its repeats where it has some: “4.1 L/min; 4.2 L/min”."""
    return "; ".join(f"{one} {unit}".strip() for one in digits)


class Reading(models.Model):
    """One value as read, with the unit it was read in. A correction supersedes it; nothing is overwritten.

    `field` and `column` are keys of the test's declaration: `column` is empty for a single value and for a choice,
    which has no unit. `row` counts the rows of a table from 0.

    A contested reading is saved beside the current one, and is not current itself until somebody chooses it.
    """

    step = models.ForeignKey(InspectionStep, models.CASCADE, related_name="readings")
    field = models.SlugField(max_length=40, db_index=False)
    row = models.PositiveSmallIntegerField(default=0)
    column = models.SlugField(max_length=40, blank=True, db_index=False)
    as_read = models.CharField(max_length=40)
    read_again = models.CharField(
        max_length=40, blank=True, default="",
        help_text="What the same quantity was read as again, in the same unit, spaces between; the mean of all counts.",
    )  # fmt: skip
    unit = models.CharField(max_length=20, blank=True)
    zero = models.CharField(max_length=8, blank=True, choices=[("gauge", "gauge"), ("absolute", "absolute")])
    instrument = models.ForeignKey(Instrument, models.PROTECT, null=True, blank=True, related_name="readings")
    entered_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    token = models.ForeignKey(
        ApiToken, models.PROTECT, null=True, blank=True, related_name="+", db_index=False,
        help_text="The token of `entered_by` with which a program entered it; empty for what the person entered.",
    )  # fmt: skip
    entered_at = models.DateTimeField()
    typed_at = models.DateTimeField(
        null=True,
        help_text="When it was typed on a device without a network, by the clock of the device; else empty.",
    )
    superseded_at = models.DateTimeField(null=True)
    superseded_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    contests = models.ForeignKey(
        "self",
        models.PROTECT,
        null=True,
        related_name="contested_by",
        help_text="The reading of another person that was already saved when this one was entered without seeing it.",
    )
    settled_at = models.DateTimeField(null=True, help_text="When somebody chose between the two readings.")
    settled_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")

    objects = ReadingQuerySet.as_manager()

    class Meta:
        ordering = ["step", "field", "row", "column", "entered_at", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["step", "field", "row", "column"], condition=Q(superseded_at=None), name="reading_one_stands"
            )
        ]
        indexes = [
            models.Index(fields=["step", "superseded_at"], name="reading_by_step"),
            models.Index(
                fields=["step"], condition=Q(contests__isnull=False, settled_at=None), name="reading_contested"
            ),
        ]

    def __str__(self):
        return repeats_in_words(self.all_read, self.unit)

    def save(self, *args, **kwargs):
        if not self.step.inspection.is_in_progress:
            raise RecordFrozen(f"{self.step.inspection} is {self.step.inspection.stage_word}: its readings are locked.")
        super().save(*args, **kwargs)

    @property
    def slot(self):
        return (self.field, self.row, self.column)

    @property
    def all_read(self):
        """The digits of the reading and of its repeats."""
        return [self.as_read, *self.read_again.split()]

    @property
    def author(self):
        """Who entered it, in words."""
        return author_in_words(self.entered_by, self.token)

    def is_by(self, person, token):
        """Whether that person entered it, without a token or with that one."""
        return (self.entered_by_id, self.token_id) == (person.pk, token and token.pk)

    @property
    def is_contested(self):
        return self.contests_id is not None and self.settled_at is None


class DecisionWord(models.TextChoices):
    """The decisions as they are stored; the words are those of inspections.bench.Decision."""

    PASS = "pass", "Pass"
    CONDITIONAL_PASS = "conditional pass", "Conditional pass"
    CONDITIONAL_FAIL = "conditional fail", "Conditional fail"
    FAIL = "fail", "Fail"
    NOT_DECIDED = "not decided", "Not decided"
    NOT_TESTED = "not tested", "Not tested"


class Result(models.Model):
    """What was computed from readings and judged, frozen when the inspection was signed. SI units; pressures gauge."""

    step = models.ForeignKey(InspectionStep, models.CASCADE, related_name="results")
    key = models.SlugField(max_length=60, db_index=False)
    label = models.CharField(max_length=120)
    value = models.FloatField(null=True)
    std_uncertainty = models.FloatField(null=True)
    expanded_uncertainty = models.FloatField(null=True)
    coverage_factor = models.FloatField(null=True)
    unit = models.CharField(max_length=20)
    limit_lower = models.FloatField(null=True)
    limit_upper = models.FloatField(null=True)
    limit_rule = models.CharField(max_length=60, blank=True)
    limit_source = models.CharField(max_length=300, blank=True)
    limit_edition = models.CharField(max_length=120, blank=True)
    limit_confirmed = models.BooleanField(
        null=True,
        help_text="Whether somebody had confirmed the limit for the site; empty without a limit, and in older records.",
    )
    decision = models.CharField(
        max_length=20, blank=True, choices=DecisionWord, help_text="Empty for a value that is reported only."
    )
    margin = models.FloatField(null=True)
    probability = models.FloatField(null=True)
    convention = models.CharField(max_length=300, blank=True)
    remark = models.CharField(max_length=600, blank=True)
    content = models.JSONField(help_text="The whole result as it was computed.")

    objects = ResultQuerySet.as_manager()

    class Meta:
        ordering = ["step", "pk"]
        db_table = "inspections_outcome"
        constraints = [models.UniqueConstraint(fields=["step", "key"], name="outcome_once_per_step")]

    def __str__(self):
        return f"{self.label}: {self.decision_words or 'reported'}"

    @property
    def is_failed(self):
        return self.decision in ("fail", "conditional fail")

    @property
    def decision_words(self):
        """“pass”, or “pass, limit not confirmed”."""
        return decision_words(self.decision, self.limit_confirmed)

    @property
    def is_open(self):
        """Whether it was neither shown to pass nor to fail."""
        return self.decision in ("not tested", "not decided")

    @cached_property
    def shown(self):
        """The result in words, with its limit bar."""
        return ShownResult(in_unit_of_place(result_from_dict(self.content)), key=f"result-{self.pk}")
