"""The components of a machine's gas circuit and their connections, as records."""

from django.db import models
from django.db.models import F, Q
from django.utils.text import slugify

from fleet.catalogue import COMPONENT_KINDS, GASES
from fleet.catalogue.dimensions import DIMENSIONS
from fleet.models.machines import Machine
from fleet.models.querysets.scoped import ComponentQuerySet, DatedRowQuerySet, MachineRowQuerySet
from fleet.place_format import current, quantity_text


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

    The components and connections that it fitted or removed refer to it. After an undo, what it fitted holds on no day
    any more, and what it removed is in place again.
    """

    class Verb(models.TextChoices):
        COPIED = "copied", "Copied from its model"
        FITTED = "fitted", "Fitted"
        INSERTED = "inserted", "Inserted"
        REPLACED = "replaced", "Replaced"
        REMOVED = "removed", "Removed"
        JOINED = "joined", "Connected"
        PARTED = "parted", "Disconnected"
        ALTERED = "altered", "Altered"

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

    objects = MachineRowQuerySet.as_manager()

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


SORTED = ("label", "lot", "part_number", "fitted_on", "removed_on")


class Component(models.Model):
    """A component of the gas circuit. `rated` maps a rated value's key to value and unit: {"set_output": [45, "psi"]}.

    `further` maps in the same way the values of its element that no plate shows.
    """

    span = ("fitted_on", "removed_on")

    machine = models.ForeignKey(Machine, models.CASCADE, related_name="components")
    code = models.SlugField(
        max_length=60,
        blank=True,
        db_index=False,
        help_text="Identifies the component in the gas circuit; made from its label.",
    )
    kind = models.SlugField(max_length=40, choices=kind_choices, db_index=False)
    label = models.CharField(
        max_length=80, help_text="The name of the component on this machine, such as “N2O regulator”."
    )
    gas = models.SlugField(max_length=20, blank=True, choices=gas_choices, db_index=False)
    part_number = models.CharField("manufacturer's part number", max_length=60, blank=True, db_column="maker_part")
    serial = models.CharField(max_length=60, blank=True)
    lot = models.CharField(max_length=60, blank=True)
    rated = models.JSONField(default=dict, blank=True)
    further = models.JSONField("further values", default=dict, blank=True)
    options = models.JSONField(default=dict, blank=True)
    fitted_on = models.DateField()
    removed_on = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=300, blank=True)
    fitted_in = models.ForeignKey(
        CircuitChange, models.SET_NULL, null=True, blank=True, editable=False, related_name="components_fitted"
    )
    removed_in = models.ForeignKey(
        CircuitChange, models.SET_NULL, null=True, blank=True, editable=False, related_name="components_removed"
    )

    objects = ComponentQuerySet.as_manager()

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
        indexes = [
            # For a safety notice, which names a kind and its lots (inspections/notice_search/searching.py).
            models.Index(fields=["kind", "lot"], name="component_by_lot"),
            # A search reads these numbers of every component, and nothing else of it.
            models.Index(fields=["serial", "lot", "part_number"], name="component_numbered"),
            # A list in the order of one of these columns begins with the first of its index.
            *(models.Index(fields=[name, "id"], name=f"component_{name}") for name in SORTED),
        ]

    def __str__(self):
        return self.label

    @property
    def circuit_code(self):
        """Return the code of the component in the circuit; one derived from the key for a row without a code."""
        return self.code or f"part-{self.pk}"

    @property
    def catalogue_entry(self):
        return COMPONENT_KINDS[self.kind]

    @property
    def rated_lines(self):
        """Return rated values as text, in the order of the catalogue, such as “Set output pressure 45 psi gauge”.

        In the unit that the place shown now prefers.
        """
        kind = self.catalogue_entry
        given = [(value, self.rated[value.key]) for value in kind.rated if value.key in self.rated]
        return [
            f"{value.label} {quantity_text(number, unit, current())}"
            f"{' gauge' if DIMENSIONS[value.dimension].has_zero else ''}"
            for value, (number, unit) in given
        ]


class Connection(models.Model):
    """A connection from a port of one component to a port of another component of the same machine."""

    span = ("fitted_on", "removed_on")

    machine = models.ForeignKey(Machine, models.CASCADE, related_name="connections")
    source = models.ForeignKey(Component, models.CASCADE, related_name="connections_out")
    source_port = models.SlugField(max_length=20, default="out")
    target = models.ForeignKey(Component, models.CASCADE, related_name="connections_in")
    target_port = models.SlugField(max_length=20, default="in")
    size = models.CharField(
        "connector", max_length=40, blank=True, help_text="The connector at the end of a hose, such as “22 mm”."
    )
    fitted_on = models.DateField()
    removed_on = models.DateField(null=True, blank=True)
    fitted_in = models.ForeignKey(
        CircuitChange, models.SET_NULL, null=True, blank=True, editable=False, related_name="connections_made"
    )
    removed_in = models.ForeignKey(
        CircuitChange, models.SET_NULL, null=True, blank=True, editable=False, related_name="connections_ended"
    )

    objects = DatedRowQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        db_table = "fleet_link"
        constraints = [
            models.CheckConstraint(condition=~Q(source=F("target")), name="link_joins_two_parts"),
            models.CheckConstraint(
                condition=Q(removed_on__isnull=True) | Q(removed_on__gte=F("fitted_on")), name="link_in_order"
            ),
        ]

    def __str__(self):
        return f"{self.source} → {self.target}"
