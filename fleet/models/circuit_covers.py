"""Computed cover tables of gas circuits: one per circuit, and which machine has which."""

from django.db import models
from django.db.models import Q

from fleet.catalogue import HAZARDS
from fleet.models.machines import Machine
from fleet.models.querysets.circuit_covers import CircuitCoverQuerySet, MachineCoverQuerySet


def hazard_choices():
    return [(hazard.code, hazard.name) for hazard in HAZARDS.values()]


class CircuitCover(models.Model):
    """The cover table of one circuit, computed once for every machine whose circuit has this digest.

    table    as `fleet.circuit.serialise.table_to_dict` gives it
    shown    feature code -> {"state", "because"}: the features that the circuit shows
    closing  the smallest sets of features that close open hazards, each a list of codes with what it closes
    rules    digest of the program that computed it; another program computes it anew
    """

    digest = models.CharField(max_length=64, unique=True)
    title = models.CharField(max_length=200)
    components = models.PositiveSmallIntegerField(db_column="parts")
    causes = models.PositiveSmallIntegerField()
    unsolved = models.PositiveSmallIntegerField(default=0)
    table = models.JSONField()
    shown = models.JSONField(default=dict)
    closing = models.JSONField(default=dict)
    rules = models.CharField(max_length=64)
    software = models.CharField(max_length=40)
    computed_at = models.DateTimeField()
    seconds = models.FloatField(help_text="Duration of the computation, s.")

    objects = CircuitCoverQuerySet.as_manager()

    class Meta:
        ordering = ["title", "pk"]
        permissions = [("compute_circuitcover", "Can compute the cover of gas circuits")]

    def __str__(self):
        return self.title


class CoverHazard(models.Model):
    """One hazard of one circuit: how many causes are open, alarmed and stopped, and the most likely open one.

    `likely` counts the open causes that are common or occasional, `closable` those of them that a feature would close
    which the circuit lacks.
    """

    cover = models.ForeignKey(CircuitCover, models.CASCADE, related_name="hazards")
    hazard = models.SlugField(max_length=40, choices=hazard_choices, db_index=False)
    open = models.PositiveSmallIntegerField()
    likely = models.PositiveSmallIntegerField()
    closable = models.PositiveSmallIntegerField(default=0)
    told = models.PositiveSmallIntegerField("alarmed")
    stopped = models.PositiveSmallIntegerField()
    worst = models.CharField(max_length=300, blank=True, help_text="The most likely open cause, in words.")
    worst_likelihood = models.CharField(max_length=20, blank=True)

    class Meta:
        ordering = ["cover", "pk"]
        constraints = [models.UniqueConstraint(fields=["cover", "hazard"], name="cover_hazard_once")]

    def __str__(self):
        return f"{self.cover}: {self.hazard}"

    @property
    def catalogue_entry(self):
        return HAZARDS[self.hazard]

    @property
    def rare(self):
        return self.open - self.likely


class MachineCover(models.Model):
    """The cover table of a machine, as computed for a day; without one, `reason` says why."""

    machine = models.OneToOneField(Machine, models.CASCADE, related_name="circuit_cover")
    cover = models.ForeignKey(CircuitCover, models.PROTECT, null=True, related_name="machines")
    basis = models.CharField(max_length=200, help_text="The records on which the circuit is based, in words.")
    measured = models.JSONField(default=list, help_text="Measured values used instead of rated ones, in words.")
    reason = models.TextField(blank=True, help_text="The reason why there is no table.")
    on = models.DateField(help_text="The date for which the circuit was computed.")
    computed_at = models.DateTimeField()

    objects = MachineCoverQuerySet.as_manager()

    class Meta:
        ordering = ["machine"]
        constraints = [
            models.CheckConstraint(
                condition=Q(cover__isnull=False, reason="") | (Q(cover__isnull=True) & ~Q(reason="")),
                name="machine_cover_or_reason",
            )
        ]

    def __str__(self):
        return f"{self.machine}: {self.cover or self.reason}"


class CircuitReading(models.Model):
    """How far the records of all machines were read when the nightly job last gave each its cover; one row.

    sequence  number of the newest link of the journal before the first machine was read
    day       the day of which the circuits were
    rules     digest of the program that read them; another program reads every machine again
    """

    sequence = models.PositiveIntegerField()
    day = models.DateField()
    rules = models.CharField(max_length=64)
    read_at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]

    def __str__(self):
        return f"Circuits of {self.day}"
