"""Test equipment: what it measures, with which accuracy, and until when it is in calibration."""

from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q

from fleet.calibration.points import stored_points
from fleet.catalogue.dimensions import scale_dimensions
from fleet.catalogue.plausibility import SCALE_NUMBERS, scale_problems
from fleet.models.places import Site
from fleet.models.querysets.instruments import CalibrationQuerySet, InstrumentQuerySet, InstrumentRowQuerySet
from fleet.web.key_addresses import key_address


class Instrument(models.Model):
    """A piece of test equipment, identified by the code on its label."""

    code = models.CharField(max_length=30, unique=True)
    name = models.CharField(max_length=100)
    serial = models.CharField(max_length=60, blank=True)
    site = models.ForeignKey(Site, models.PROTECT, related_name="instruments")
    is_retired = models.BooleanField(default=False)
    applies_corrections = models.BooleanField(
        "correct readings by the certificate",
        default=False,
        help_text="Readings are corrected by the as-left points of the calibration that is current on their day.",
    )
    interval_months = models.PositiveSmallIntegerField(
        "calibration interval, months", null=True, blank=True, help_text="As somebody decided; empty if nobody did."
    )
    longest_interval_months = models.PositiveSmallIntegerField(
        "longest interval, months", null=True, blank=True,
        help_text="Never exceeded, whatever the results say: the manufacturer's or the site's own rule.",
    )  # fmt: skip

    objects = InstrumentQuerySet.as_manager()

    class Meta:
        ordering = ["code"]
        constraints = [
            models.CheckConstraint(
                condition=Q(interval_months=None)
                | Q(longest_interval_months=None)
                | Q(interval_months__lte=F("longest_interval_months")),
                name="interval_within_the_longest",
            )
        ]

    def __str__(self):
        return f"{self.code} {self.name}"

    def get_absolute_url(self):
        return key_address("fleet:instrument", self.pk)


class InstrumentScale(models.Model):
    """One thing that an instrument measures: range, resolution and accuracy specification, all in `unit`.

    The accuracy is the sum of a share of the reading, a share of the span and a fixed value, at `coverage_factor`; a
    coverage factor of 0 means hard limits, taken as a rectangular distribution (JCGM 100:2008, 4.3.7).
    """

    instrument = models.ForeignKey(Instrument, models.CASCADE, related_name="scales")
    dimension = models.CharField(max_length=20, choices=scale_dimensions)
    unit = models.CharField(max_length=12)
    low = models.FloatField()
    high = models.FloatField()
    resolution = models.FloatField()
    of_reading_percent = models.FloatField("accuracy, % of reading", default=0)
    of_span_percent = models.FloatField("accuracy, % of span", default=0)
    absolute = models.FloatField("accuracy, fixed term", default=0)
    coverage_factor = models.FloatField(default=2)

    objects = InstrumentRowQuerySet.as_manager()

    class Meta:
        ordering = ["instrument", "dimension", "high"]
        constraints = [
            models.CheckConstraint(condition=Q(high__gt=F("low")), name="scale_has_a_span"),
            models.CheckConstraint(condition=Q(resolution__gt=0), name="scale_has_a_resolution"),
        ]

    def __str__(self):
        return f"{self.dimension} {self.low:g} to {self.high:g} {self.unit}"

    def clean(self):
        problems = scale_problems({name: getattr(self, name) for name in ("unit", *SCALE_NUMBERS)})
        if problems:
            raise ValidationError({name: problem.of(f"{getattr(self, name):g}") for name, problem in problems.items()})

    def allowed_error(self, reading):
        """Return the half width of the accuracy at a reading, both in `unit`; 0 where no accuracy is stated."""
        shares = self.of_reading_percent * abs(reading) + self.of_span_percent * (self.high - self.low)
        return shares / 100 + self.absolute

    @property
    def accuracy_words(self):
        """Return the accuracy specification as on a data sheet, such as “0.5 % of reading + 0.1 kPa”."""
        parts = (
            (self.of_reading_percent, "% of reading"),
            (self.of_span_percent, "% of span"),
            (self.absolute, self.unit),
        )
        return " + ".join(f"{value:g} {words}" for value, words in parts if value) or "not stated"

    @property
    def coverage_words(self):
        return f"coverage factor {self.coverage_factor:g}" if self.coverage_factor else "hard limits"


class Calibration(models.Model):
    """A calibration of an instrument and its last valid day."""

    class Result(models.TextChoices):
        WITHIN = "within", "Within specification"
        ADJUSTED = "adjusted", "Adjusted to within"
        OUTSIDE = "outside", "Outside specification"

    VALID_RESULTS = (Result.WITHIN, Result.ADJUSTED)

    instrument = models.ForeignKey(Instrument, models.CASCADE, related_name="calibrations")
    calibrated_on = models.DateField()
    due_on = models.DateField()
    result = models.CharField(max_length=12, choices=Result, default=Result.WITHIN)
    certificate = models.CharField(max_length=80)
    laboratory = models.CharField(max_length=100, blank=True)
    note = models.CharField(max_length=300, blank=True)
    points = models.JSONField(
        default=list, blank=True,
        help_text="What the certificate states over each scale: reference values, readings and uncertainties.",
    )  # fmt: skip

    objects = CalibrationQuerySet.as_manager()

    class Meta:
        ordering = ["-calibrated_on", "-pk"]
        constraints = [
            models.CheckConstraint(condition=Q(due_on__gt=F("calibrated_on")), name="calibration_in_order"),
            models.UniqueConstraint(fields=["instrument", "certificate"], name="certificate_once_per_instrument"),
        ]

    def __str__(self):
        return f"{self.certificate}, valid until {self.due_on}"

    def get_absolute_url(self):
        return key_address("fleet:calibration", self.pk)

    @property
    def scale_points(self):
        """Return the ScalePoints of each scale that the certificate states points of."""
        return stored_points(self.points)
