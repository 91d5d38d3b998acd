"""Rows that follow from other records, kept so that pages of a large fleet do not compute them (inspections/kept)."""

from django.db import models

from fleet.models import Area, Machine, MachineModel, Site
from inspections.models.inspections import Inspection
from inspections.models.procedures import Procedure
from inspections.models.querysets.kept_rows import REVIEW_ORDER, KeptDueDateQuerySet, KeptReviewQuerySet


class KeptDueDate(models.Model):
    """What became of a due date, by `inspections.schedule.on_time`; it holds no “past”, which depends on the day.

    inspection  the one that was planned for the due date first, which represents it
    area, site  where the machine was on `closes_on`, the last day of the window
    answered_on date of the complete inspection that was signed for it first, at the site; None without one
    excuse      kind of the last attempt made by that day; empty without one
    """

    inspection = models.OneToOneField(Inspection, models.CASCADE, primary_key=True, related_name="+")
    machine = models.ForeignKey(Machine, models.CASCADE, related_name="+")
    procedure = models.ForeignKey(Procedure, models.CASCADE, related_name="+", db_index=False)
    area = models.ForeignKey(Area, models.CASCADE, related_name="+", db_index=False)
    site = models.ForeignKey(Site, models.CASCADE, related_name="+", db_index=False)
    due_on = models.DateField(null=True)
    closes_on = models.DateField()
    answer = models.CharField(max_length=12)
    answered_on = models.DateField(null=True)
    is_early = models.BooleanField()
    excuse = models.CharField(max_length=20, blank=True)

    objects = KeptDueDateQuerySet.as_manager()

    class Meta:
        ordering = ["closes_on", "pk"]
        indexes = [
            # What the figures count by comes first, so that each number is one range of days within the index.
            models.Index(fields=["answer", "is_early", "excuse", "closes_on", "site"], name="kept_due_by_answer"),
            # For the list of them: with all that it is narrowed and sorted by, so that the table itself is not read.
            models.Index(
                fields=[
                    "closes_on",
                    "inspection",
                    "answer",
                    "is_early",
                    "excuse",
                    "answered_on",
                    "due_on",
                    "procedure",
                    "site",
                    "area",
                    "machine",
                ],
                name="kept_due_by_day",
            ),
        ]

    def __str__(self):
        return f"{self.inspection}: {self.answer}"


class KeptReview(models.Model):
    """The place of a machine that is not retired in the retirement review of one day; see inspections/kept/reviews.py.

    day        the day of the review; None where a circuit was computed anew since
    support_ends  as an ordinal day; the last day that there is where no end is known
    cover      key of the computed circuit on which it rests
    met_absolute, met_relative, open_questions  codes of criteria with commas between
    """

    machine = models.OneToOneField(Machine, models.CASCADE, primary_key=True, related_name="+")
    asset_number = models.CharField(max_length=40)
    site = models.ForeignKey(Site, models.CASCADE, related_name="+", db_index=False)
    area = models.ForeignKey(Area, models.CASCADE, related_name="+", db_index=False)
    model = models.ForeignKey(MachineModel, models.CASCADE, related_name="+", db_index=False)
    day = models.DateField(null=True)
    conclusion = models.PositiveSmallIntegerField(help_text="Its place among the conclusions, worst first.")
    absolute = models.PositiveSmallIntegerField()
    exposure = models.FloatField()
    relative = models.PositiveSmallIntegerField()
    burden = models.FloatField(help_text="To the tenth.")
    not_known = models.PositiveSmallIntegerField()
    support_ends = models.PositiveIntegerField()
    hours_down = models.PositiveIntegerField()
    findings = models.PositiveIntegerField()
    is_provisional = models.BooleanField()
    met_absolute = models.CharField(max_length=200, blank=True)
    met_relative = models.CharField(max_length=200, blank=True)
    open_questions = models.CharField(max_length=200, blank=True)
    cover = models.BigIntegerField(null=True)

    objects = KeptReviewQuerySet.as_manager()

    class Meta:
        ordering = REVIEW_ORDER
        indexes = [
            # With what a page narrows and counts by, so that the table itself is not read.
            models.Index(
                fields=[*REVIEW_ORDER, "is_provisional", "site", "area", "model"], name="kept_review_by_place"
            ),
            models.Index(fields=["day"], name="kept_review_by_day"),
            models.Index(fields=["cover"], name="kept_review_by_cover"),
        ]

    def __str__(self):
        return f"Review of {self.asset_number}"


class KeptCount(models.Model):
    """How many inspections or machines there are in one bucket; see inspections/kept_counts/tallies.py.

    key       all that follows, in one text
    location  key of a site or of an area
    """

    key = models.CharField(max_length=100, primary_key=True)
    tally = models.CharField(max_length=16)
    location = models.BigIntegerField()
    what = models.CharField(max_length=20, blank=True)
    day = models.DateField()
    last_day = models.DateField()
    number = models.PositiveIntegerField()

    class Meta:
        ordering = ["key"]
        indexes = [
            # With the number, so that the table itself is not read.
            models.Index(fields=["tally", "what", "day", "last_day", "location", "number"], name="kept_count_by_day"),
        ]

    def __str__(self):
        return f"{self.key}: {self.number}"

    @classmethod
    def of(cls, bucket, number):
        return cls(key=bucket.key, number=number, **bucket._asdict())


class KeptRules(models.Model):
    """By which rules the rows of one kind are kept; without this row, or by other rules, none is used.

    day       the day for which the rows hold; None for rows that hold on any day
    is_whole  whether every machine has its rows: not while they are filled
    """

    kind = models.CharField(max_length=20, primary_key=True)
    rules = models.CharField(max_length=16)
    day = models.DateField(null=True)
    is_whole = models.BooleanField()
    filled_at = models.DateTimeField()

    def __str__(self):
        return f"{self.kind}, {self.rules}"
