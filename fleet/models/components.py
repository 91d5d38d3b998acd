"""The parts of a machine's gas circuit and the pipes between them, as records."""

from django.db import models
from django.db.models import F, Q

from fleet.catalogue import COMPONENT_KINDS, GASES
from fleet.models.machines import Machine
from fleet.querysets import DatedPartQuerySet


def kind_choices():
    return [(kind.code, kind.name) for kind in COMPONENT_KINDS.values()]


def gas_choices():
    return [(gas.code, gas.name) for gas in GASES.values()]


class Component(models.Model):
    """A part in the gas circuit. `rated` maps a rated value's key to value and unit: {"set_output": [45, "psi"]}."""

    span = ("fitted_on", "removed_on")

    machine = models.ForeignKey(Machine, models.CASCADE, related_name="components")
    kind = models.SlugField(max_length=40, choices=kind_choices, db_index=False)
    label = models.CharField(max_length=80, help_text="What it is called on this machine, such as “N2O regulator”.")
    gas = models.SlugField(max_length=20, blank=True, choices=gas_choices, db_index=False)
    maker_part = models.CharField("part number", max_length=60, blank=True)
    serial = models.CharField(max_length=60, blank=True)
    lot = models.CharField(max_length=60, blank=True)
    rated = models.JSONField(default=dict, blank=True)
    fitted_on = models.DateField()
    removed_on = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=300, blank=True)

    objects = DatedPartQuerySet.as_manager()

    class Meta:
        ordering = ["kind", "label", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(removed_on__isnull=True) | Q(removed_on__gte=F("fitted_on")), name="component_in_order"
            ),
            models.UniqueConstraint(
                fields=["machine", "label"], condition=Q(removed_on__isnull=True), name="component_label_once"
            ),
        ]
        indexes = [models.Index(fields=["kind", "lot"], name="component_by_lot")]

    def __str__(self):
        return self.label

    @property
    def catalogue_entry(self):
        return COMPONENT_KINDS[self.kind]

    @property
    def rated_lines(self):
        """Rated values in words, in the order of the catalogue, such as “Set output pressure 45 psi gauge”."""
        kind = self.catalogue_entry
        given = [(value, self.rated[value.key]) for value in kind.rated if value.key in self.rated]
        return [
            f"{value.label} {number:g} {unit}{' gauge' if value.dimension == 'pressure' else ''}"
            for value, (number, unit) in given
        ]


class Link(models.Model):
    """A pipe from a port of one part to a port of another part of the same machine."""

    span = ("fitted_on", "removed_on")

    machine = models.ForeignKey(Machine, models.CASCADE, related_name="links")
    source = models.ForeignKey(Component, models.CASCADE, related_name="links_out")
    source_port = models.SlugField(max_length=20, default="out")
    target = models.ForeignKey(Component, models.CASCADE, related_name="links_in")
    target_port = models.SlugField(max_length=20, default="in")
    fitted_on = models.DateField()
    removed_on = models.DateField(null=True, blank=True)

    objects = DatedPartQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(source=F("target")), name="link_joins_two_parts"),
            models.CheckConstraint(
                condition=Q(removed_on__isnull=True) | Q(removed_on__gte=F("fitted_on")), name="link_in_order"
            ),
        ]

    def __str__(self):
        return f"{self.source} → {self.target}"
