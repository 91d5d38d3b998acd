"""How long components last, and what their meters showed."""

from django.db import models
from django.db.models import F, Q

from fleet.catalogue import COMPONENT_KINDS
from fleet.models import Component, MachineModel, Person
from fleet.models.components import kind_choices
from fleet.models.querysets.scoped import SiteScopedQuerySet
from inspections.models.planning_rules import RuleSource
from inspections.models.querysets.planning_rules import ComponentLifeQuerySet

MOST_LIFE = 1_000_000


class LifeUnit(models.TextChoices):
    MONTHS = "months", "Months since it was fitted"
    HOURS = "hours", "Hours of use"
    CYCLES = "cycles", "Cycles"


class ComponentLife(models.Model):
    """How long every component of a kind may stay fitted: on the machines of one model, or on all others.

    until_date  the first day on which it counts no more: set by a later one of the same scope, or when it is withdrawn
    """

    kind = models.SlugField(max_length=40, choices=kind_choices, db_index=False)
    machine_model = models.ForeignKey(MachineModel, models.PROTECT, null=True, blank=True, related_name="+")
    life = models.PositiveIntegerField()
    unit = models.CharField(max_length=6, choices=LifeUnit)
    source = models.CharField("based on", max_length=12, choices=RuleSource)
    reference = models.CharField(max_length=300)
    reason = models.CharField(max_length=300)
    from_date = models.DateField()
    until_date = models.DateField(null=True, blank=True, editable=False)
    by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()
    ended_reason = models.CharField(max_length=300, blank=True, editable=False)
    ended_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    ended_at = models.DateTimeField(null=True)

    objects = ComponentLifeQuerySet.as_manager()

    class Meta:
        verbose_name = "life of a component"
        verbose_name_plural = "lives of components"
        ordering = ["kind", "-from_date", "-pk"]
        constraints = [
            models.CheckConstraint(condition=Q(life__gte=1, life__lte=MOST_LIFE), name="component_life_positive"),
            models.CheckConstraint(condition=~Q(reason="") & ~Q(reference=""), name="component_life_has_reason"),
            models.CheckConstraint(
                condition=Q(until_date=None, ended_at=None) | Q(until_date__gte=F("from_date"), ended_at__isnull=False),
                name="component_life_in_order",
            ),
        ]

    def __str__(self):
        return f"{self.kind_name}, {self.life_words}, {self.scope_words}"

    @property
    def kind_name(self):
        return COMPONENT_KINDS[self.kind].name if self.kind in COMPONENT_KINDS else self.kind

    @property
    def life_words(self):
        return f"{self.life} {self.unit if self.life > 1 else self.unit.removesuffix('s')}"

    @property
    def scope_words(self):
        return f"machine model {self.machine_model}" if self.machine_model else "all models without a life of their own"


class MeterReadingQuerySet(SiteScopedQuerySet):
    site_path = "component__machine__area__site"

    def in_force(self):
        """Those that nobody withdrew."""
        return self.filter(withdrawn_at=None)


class MeterReading(models.Model):
    """How many hours or cycles a component had run since it was fitted, as a meter showed on a day."""

    component = models.ForeignKey(Component, models.PROTECT, related_name="meter_readings")
    unit = models.CharField(max_length=6, choices=LifeUnit)
    used = models.PositiveIntegerField("hours or cycles since it was fitted")
    read_on = models.DateField()
    note = models.CharField(max_length=300, blank=True)
    by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()
    withdrawn_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    withdrawn_at = models.DateTimeField(null=True)

    objects = MeterReadingQuerySet.as_manager()

    class Meta:
        ordering = ["-read_on", "-pk"]
        constraints = [
            models.CheckConstraint(condition=Q(unit__in=("hours", "cycles")), name="meter_reading_of_a_meter"),
        ]

    def __str__(self):
        return f"{self.used} {self.unit} on {self.read_on}"
