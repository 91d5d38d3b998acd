"""The parts of a machine's gas circuit and the pipes between them, as records."""

from django.db import models
from django.db.models import F, Q
from django.utils.text import slugify

from fleet.catalogue import COMPONENT_KINDS, GASES
from fleet.catalogue.dimensions import DIMENSIONS
from fleet.models.machines import Machine
from fleet.place_format import current, quantity_text
from fleet.querysets import DatedPartQuerySet, MachinePartQuerySet


def kind_choices():
    return [(kind.code, kind.name) for kind in COMPONENT_KINDS.values()]


def gas_choices():
    return [(gas.code, gas.name) for gas in GASES.values()]


def free_code(label, taken):
    """Return a slug of the label that is not in `taken`."""
    stem = slugify(label).replace("_", "-")[:46].strip("-") or "part"
    return next(code for code in (stem, *(f"{stem}-{n}" for n in range(2, len(taken) + 3))) if code not in taken)


class CircuitChange(models.Model):
    """One change of a machine's gas circuit, with its date and evidence; one that was undone stays readable.

    The parts and joints that it fitted or removed name it. Undone, what it fitted holds on no day any more, and what
    it removed is in place again.
    """

    class Verb(models.TextChoices):
        COPIED = "copied", "Written down from its model"
        FITTED = "fitted", "Fitted"
        INSERTED = "inserted", "Inserted"
        REPLACED = "replaced", "Replaced"
        REMOVED = "removed", "Removed"
        JOINED = "joined", "Joined"
        PARTED = "parted", "Taken apart"

    machine = models.ForeignKey(Machine, models.CASCADE, related_name="circuit_changes")
    verb = models.CharField(max_length=12, choices=Verb)
    changed_on = models.DateField()
    words = models.CharField(max_length=400)
    evidence = models.CharField(max_length=300, blank=True)
    by = models.ForeignKey("fleet.Person", models.PROTECT, null=True, related_name="+")
    recorded_at = models.DateTimeField()
    undone_at = models.DateTimeField(null=True, blank=True)
    undone_by = models.ForeignKey("fleet.Person", models.PROTECT, null=True, blank=True, related_name="+")
    undone_reason = models.CharField(max_length=300, blank=True)

    objects = MachinePartQuerySet.as_manager()

    class Meta:
        ordering = ["-changed_on", "-pk"]
        verbose_name = "change of the gas circuit"
        constraints = [
            models.CheckConstraint(
                condition=Q(undone_at__isnull=True) | ~Q(undone_reason=""), name="circuit_change_undone_with_reason"
            )
        ]

    def __str__(self):
        return self.words


class Component(models.Model):
    """A part in the gas circuit. `rated` maps a rated value's key to value and unit: {"set_output": [45, "psi"]}.

    `further` maps the values that no plate shows and that its element knows, in the same way.
    """

    span = ("fitted_on", "removed_on")

    machine = models.ForeignKey(Machine, models.CASCADE, related_name="components")
    code = models.SlugField(
        max_length=60, blank=True, db_index=False, help_text="Names the part in the gas circuit; made from its label."
    )
    kind = models.SlugField(max_length=40, choices=kind_choices, db_index=False)
    label = models.CharField(max_length=80, help_text="What it is called on this machine, such as “N2O regulator”.")
    gas = models.SlugField(max_length=20, blank=True, choices=gas_choices, db_index=False)
    maker_part = models.CharField("part number", max_length=60, blank=True)
    serial = models.CharField(max_length=60, blank=True)
    lot = models.CharField(max_length=60, blank=True)
    rated = models.JSONField(default=dict, blank=True)
    further = models.JSONField("further values", default=dict, blank=True)
    options = models.JSONField(default=dict, blank=True)
    fitted_on = models.DateField()
    removed_on = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=300, blank=True)
    fitted_in = models.ForeignKey(
        CircuitChange, models.SET_NULL, null=True, blank=True, editable=False, related_name="parts_fitted"
    )
    removed_in = models.ForeignKey(
        CircuitChange, models.SET_NULL, null=True, blank=True, editable=False, related_name="parts_removed"
    )

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
            models.UniqueConstraint(
                fields=["machine", "code"],
                condition=Q(removed_on__isnull=True) & ~Q(code=""),
                name="component_code_once",
            ),
        ]
        indexes = [models.Index(fields=["kind", "lot"], name="component_by_lot")]

    def __str__(self):
        return self.label

    @property
    def circuit_code(self):
        """What names the part in the circuit; a row that was written without a code has its own."""
        return self.code or f"part-{self.pk}"

    @property
    def catalogue_entry(self):
        return COMPONENT_KINDS[self.kind]

    @property
    def rated_lines(self):
        """Rated values in words, in the order of the catalogue, such as “Set output pressure 45 psi gauge”.

        In the unit that the place shown now prefers.
        """
        kind = self.catalogue_entry
        given = [(value, self.rated[value.key]) for value in kind.rated if value.key in self.rated]
        return [
            f"{value.label} {quantity_text(number, unit, current())}"
            f"{' gauge' if DIMENSIONS[value.dimension].has_zero else ''}"
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
    size = models.CharField("connector", max_length=40, blank=True, help_text="At a hose's end, such as “22 mm”.")
    fitted_on = models.DateField()
    removed_on = models.DateField(null=True, blank=True)
    fitted_in = models.ForeignKey(
        CircuitChange, models.SET_NULL, null=True, blank=True, editable=False, related_name="joints_made"
    )
    removed_in = models.ForeignKey(
        CircuitChange, models.SET_NULL, null=True, blank=True, editable=False, related_name="joints_ended"
    )

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
