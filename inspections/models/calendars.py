"""When people work, when sites and areas do not, and who is competent for what."""

from django.core.validators import MaxValueValidator
from django.db import models
from django.db.models import F, Q

from fleet.models import Area, MachineModel, Person, Site
from inspections.models.querysets.calendars import CompetenceQuerySet, OfPersonQuerySet, OfPlaceQuerySet

WEEKDAYS = ["Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday"]
DAY_MINUTES = 24 * 60
LONGEST_SKILL = 60


class WorkingHours(models.Model):
    """The minutes that a technician can give to inspections on one weekday; 0 is Monday."""

    person = models.ForeignKey(Person, models.CASCADE, related_name="working_hours")
    weekday = models.PositiveSmallIntegerField(choices=list(enumerate(WEEKDAYS)))
    minutes = models.PositiveSmallIntegerField(default=0, validators=[MaxValueValidator(DAY_MINUTES)])

    objects = OfPersonQuerySet.as_manager()

    class Meta:
        ordering = ["person", "weekday"]
        verbose_name_plural = "working hours"
        constraints = [
            models.UniqueConstraint(fields=["person", "weekday"], name="working_hours_once_per_weekday"),
            models.CheckConstraint(condition=Q(weekday__lte=6), name="working_hours_on_a_weekday"),
            models.CheckConstraint(condition=Q(minutes__lte=DAY_MINUTES), name="working_hours_within_a_day"),
        ]

    def __str__(self):
        return f"{self.minutes} min on {self.get_weekday_display()}"


class Leave(models.Model):
    """Days on which a technician is away. An entry that was withdrawn stays in the table."""

    class Kind(models.TextChoices):
        LEAVE = "leave", "Leave"
        ILLNESS = "illness", "Illness"
        TRAINING = "training", "Training"
        OTHER = "other", "Other work"

    person = models.ForeignKey(Person, models.CASCADE, related_name="leaves")
    kind = models.CharField(max_length=10, choices=Kind, default=Kind.LEAVE)
    first_day = models.DateField()
    last_day = models.DateField()
    by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()
    withdrawn_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    withdrawn_at = models.DateTimeField(null=True)

    objects = OfPersonQuerySet.as_manager()

    class Meta:
        ordering = ["-first_day", "-pk"]
        constraints = [
            models.CheckConstraint(condition=Q(last_day__gte=F("first_day")), name="leave_ends_after_it_begins")
        ]

    def __str__(self):
        return f"{self.get_kind_display()} of {self.person}"


class Competence(models.Model):
    """That a technician is competent for a machine model, for every model of a manufacturer, or in a skill that a
    planning rule asks for, and until when.
    """

    person = models.ForeignKey(Person, models.PROTECT, related_name="competences")
    machine_model = models.ForeignKey(MachineModel, models.PROTECT, null=True, blank=True, related_name="+")
    manufacturer = models.CharField(max_length=100, blank=True)
    skill = models.CharField(max_length=LONGEST_SKILL, blank=True)
    last_day = models.DateField(null=True, blank=True, help_text="The last day on which it is valid; empty: no end.")
    evidence = models.CharField(max_length=200, help_text="What shows it, such as a course with its date.")
    confirmed_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    confirmed_at = models.DateTimeField()
    withdrawn_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    withdrawn_at = models.DateTimeField(null=True)

    objects = CompetenceQuerySet.as_manager()

    class Meta:
        ordering = ["person", "skill", "manufacturer", "machine_model", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(machine_model__isnull=False, manufacturer="", skill="")
                | (Q(machine_model__isnull=True, skill="") & ~Q(manufacturer=""))
                | (Q(machine_model__isnull=True, manufacturer="") & ~Q(skill="")),
                name="competence_for_one_subject",
            )
        ]

    def __str__(self):
        return f"{self.person} for {self.subject}"

    @property
    def subject(self):
        """What it is for, in words."""
        if self.skill:
            return f"the skill “{self.skill}”"
        return str(self.machine_model) if self.machine_model_id else f"every model of {self.manufacturer}"


class FreeDay(models.Model):
    """A day on which a site does no planned work, beside the public holidays of its country."""

    site = models.ForeignKey(Site, models.PROTECT, related_name="free_days")
    day = models.DateField()
    title = models.CharField(max_length=80)
    by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()
    withdrawn_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    withdrawn_at = models.DateTimeField(null=True)

    objects = OfPlaceQuerySet.as_manager()

    class Meta:
        ordering = ["day", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["site", "day"], condition=Q(withdrawn_at=None), name="free_day_once_per_site"
            )
        ]

    def __str__(self):
        return f"{self.title} at {self.site}"


class AreaClosing(models.Model):
    """When no machine of an area can be taken: a weekday of every week, or days from first to last."""

    area = models.ForeignKey(Area, models.PROTECT, related_name="closings")
    weekday = models.PositiveSmallIntegerField(null=True, blank=True, choices=list(enumerate(WEEKDAYS)))
    first_day = models.DateField(null=True, blank=True)
    last_day = models.DateField(null=True, blank=True)
    reason = models.CharField(max_length=120)
    by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()
    withdrawn_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    withdrawn_at = models.DateTimeField(null=True)

    objects = OfPlaceQuerySet.as_manager()

    class Meta:
        ordering = ["area", "weekday", "first_day", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(weekday__lte=6, first_day__isnull=True, last_day__isnull=True)
                | Q(weekday__isnull=True, first_day__isnull=False, last_day__gte=F("first_day")),
                name="area_closing_weekday_or_days",
            )
        ]

    def __str__(self):
        return f"{self.area} closed"

    def holds(self, day):
        """Whether no machine can be taken on a day."""
        if self.weekday is not None:
            return day.weekday() == self.weekday
        return self.first_day <= day <= self.last_day
