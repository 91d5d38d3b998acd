"""Attempts at inspections that did not happen."""

from django.db import models
from django.db.models import Q

from fleet.models import AwayPeriod, Person
from fleet.web.at_site import day_words
from inspections.models.inspections import Inspection
from inspections.models.querysets.attempts import AttemptQuerySet


class AttemptKind(models.TextChoices):
    """What happened instead of the inspection."""

    NOT_LOCATED = "not located", "Could not locate"
    IN_USE = "in use", "In use"
    REFUSED = "refused", "Refused by the area"
    LENT = "lent", "Away: lent"
    OUTSIDE_REPAIR = "outside repair", "Away: outside repair"
    DEFERRED = "deferred", "Deferred"


def attempt_in_words(kind, until):
    """“Deferred until 12 Dec 2026”, or the kind alone where there is no day."""
    label = AttemptKind(kind).label
    return f"{label} until {day_words(until)}" if until else label


AWAY = (AttemptKind.LENT, AttemptKind.OUTSIDE_REPAIR)


class Attempt(models.Model):
    """An attempt at an open inspection that did not happen. It signs, moves and closes nothing: the inspection stays
    open and due. Attempts are only ever added.
    """

    inspection = models.ForeignKey(Inspection, models.PROTECT, related_name="attempts")
    kind = models.CharField(max_length=20, choices=AttemptKind)
    reason = models.CharField(max_length=300, blank=True)
    decided_by = models.CharField(
        max_length=120, blank=True, help_text="Who deferred it or refused the machine: a name or a post."
    )
    until = models.DateField(
        null=True, blank=True, help_text="Day to which it is deferred, or on which the machine is expected back."
    )
    away = models.ForeignKey(
        AwayPeriod, models.PROTECT, null=True, related_name="attempts",
        help_text="The loan or the outside repair that was recorded for the machine then.",
    )  # fmt: skip
    made_on = models.DateField(help_text="Date of the attempt at the machine's site.")
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    at = models.DateTimeField()

    objects = AttemptQuerySet.as_manager()

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            models.CheckConstraint(condition=Q(kind__in=AttemptKind.values), name="attempt_kind_known"),
            models.CheckConstraint(
                condition=~Q(kind="deferred") | (Q(until__isnull=False) & ~Q(reason="") & ~Q(decided_by="")),
                name="attempt_deferral_is_whole",
            ),
            models.UniqueConstraint(fields=["inspection", "kind", "made_on"], name="attempt_once_a_day"),
        ]

    def __str__(self):
        return f"{self.get_kind_display()} ({self.inspection})"

    @property
    def words(self):
        return attempt_in_words(self.kind, self.until)
