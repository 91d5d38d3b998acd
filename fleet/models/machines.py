"""Machine models, machines and their status."""

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models

from fleet.catalogue import Equipment
from fleet.models.places import Area
from fleet.models.querysets.machines import MachineModelQuerySet, MachineQuerySet
from fleet.models.querysets.scoped import MachineRowQuerySet
from fleet.web.key_addresses import key_address

YEAR = [MinValueValidator(1900), MaxValueValidator(2100)]


class MachineStatus(models.TextChoices):
    IN_SERVICE = "in service", "In service"
    WITHDRAWN = "withdrawn", "Withdrawn from use"
    RETIRED = "retired", "Retired"


class MachineModel(models.Model):
    """A type of machine: what every machine of it had when new, and how long it is supported."""

    code = models.SlugField(max_length=40, unique=True)
    manufacturer = models.CharField(max_length=80, db_column="maker")
    name = models.CharField(max_length=80)
    first_built = models.PositiveSmallIntegerField(validators=YEAR, null=True, blank=True)
    last_built = models.PositiveSmallIntegerField(validators=YEAR, null=True, blank=True)
    standard = models.CharField(
        "built to",
        max_length=120,
        blank=True,
        help_text="The machine standard and edition that the model was built to.",
    )
    gases = models.JSONField(default=list, help_text="Codes of the gases that it can deliver, including oxygen.")
    vaporizer_positions = models.PositiveSmallIntegerField(default=1)
    lacks = models.JSONField(
        default=list,
        blank=True,
        help_text="What no machine of this model has: any of pipeline, yokes, ventilator, scavenging, mains-power.",
    )
    description = models.TextField(blank=True)
    parts_until = models.DateField(
        "spare parts until",
        null=True,
        blank=True,
        help_text="Approved spare parts and qualified service are available until this date.",
    )
    support_note = models.CharField(max_length=200, blank=True)
    vapour_free_minutes = models.PositiveSmallIntegerField(
        "purge for vapour-free use (min)",
        validators=[MinValueValidator(1), MaxValueValidator(1440)],
        null=True,
        blank=True,
        help_text="How long the machine is purged before a patient who must not breathe vapour; stated, not computed.",
    )
    vapour_free_source = models.CharField(
        "source of the purge time",
        max_length=200,
        blank=True,
        help_text="Who states it and where, with the flow and what is changed first, such as absorbent and hoses.",
    )
    circuit = models.TextField(
        "gas circuit",
        blank=True,
        help_text="The gas circuit of every machine of this model when new, as a circuit file (TOML).",
    )

    objects = MachineModelQuerySet.as_manager()

    class Meta:
        ordering = ["manufacturer", "name"]
        constraints = [
            models.UniqueConstraint(fields=["manufacturer", "name"], name="machine_model_once"),
            models.CheckConstraint(
                condition=models.Q(vapour_free_minutes=None, vapour_free_source="")
                | models.Q(vapour_free_minutes__gte=1) & ~models.Q(vapour_free_source=""),
                name="purge_time_with_source",
            ),
        ]

    def __str__(self):
        return self.in_words(self.manufacturer, self.name)

    def get_absolute_url(self):
        return key_address("fleet:model", self.pk)

    @staticmethod
    def in_words(manufacturer, name):
        """Return how a model is named."""
        return f"{manufacturer} {name}"

    @property
    def equipment(self):
        """The equipment that decides which safety features apply; what is not listed as missing counts as present."""
        return Equipment(
            gases=frozenset(self.gases) or None,
            vaporizer_positions=self.vaporizer_positions,
            has_pipeline=self._has("pipeline"),
            has_yokes=self._has("yokes"),
            has_ventilator=self._has("ventilator"),
            has_scavenging=self._has("scavenging"),
            has_mains_power=self._has("mains-power"),
        )

    @property
    def lacks_words(self):
        """The missing equipment in words, such as “mains power”."""
        return [need.replace("-", " ") for need in self.lacks]

    def _has(self, need):
        return False if need in self.lacks else None


ENTERING = "entering"  # the status of a machine that an import is still entering, so that no count includes it


class EnteredMachines(models.Manager):
    """The manager of the register, without machines that an import is still entering (fleet/imports/staging.py)."""

    def get_queryset(self):
        return super().get_queryset().filter(staged="")


class Machine(models.Model):
    """One anaesthesia gas machine, identified by its asset number."""

    asset_number = models.CharField(max_length=40, unique=True)
    serial = models.CharField(max_length=60, blank=True)
    model = models.ForeignKey(MachineModel, models.PROTECT, related_name="machines")
    area = models.ForeignKey(Area, models.PROTECT, related_name="machines")
    built_year = models.PositiveSmallIntegerField(
        validators=YEAR, null=True, blank=True, help_text="Selects the edition of each limit. Leave empty if not known."
    )
    in_use_from = models.DateField(help_text="First day of use. The register has no data from before this date.")
    status = models.CharField(
        max_length=12, choices=MachineStatus, default=MachineStatus.IN_SERVICE, editable=False, db_column="duty"
    )
    note = models.TextField(blank=True)

    staged = models.CharField(
        max_length=60,
        blank=True,
        editable=False,
        help_text="The import that is adding it, until that import is complete.",
    )

    objects = EnteredMachines.from_queryset(MachineQuerySet)()
    with_staged = models.Manager.from_queryset(MachineQuerySet)()

    class Meta:
        ordering = ["asset_number"]
        base_manager_name = "with_staged"
        constraints = [
            models.CheckConstraint(
                condition=models.Q(status__in=(*MachineStatus.values, ENTERING)), name="machine_duty_known"
            )
        ]
        indexes = [
            models.Index(fields=["status", "asset_number"], name="machine_by_duty"),
            # All that a search reads of a machine, so that it goes through this and not through the table.
            models.Index(fields=["asset_number", "serial", "model", "area", "staged"], name="machine_searched"),
            models.Index(fields=["area", "status", "staged"], name="machine_by_area"),
            models.Index(fields=["staged"], name="machine_by_staged", condition=~models.Q(staged="")),
        ]
        permissions = [
            ("withdraw_machine", "Can withdraw a machine from use"),
            ("release_machine", "Can return a machine to service"),
            ("retire_machine", "Can retire a machine"),
            ("import_register", "Can import a register"),
            ("export_register", "Can export lists and reports"),
        ]

    def __str__(self):
        return self.asset_number

    def get_absolute_url(self):
        return key_address("fleet:machine", self.pk)

    @property
    def site(self):
        return self.area.site

    def is_at_hand(self):
        """Whether it is in service and not away: then it counts towards the minimum of its area."""
        return self.status == MachineStatus.IN_SERVICE and not self.away_periods.now().exists()

    def status_change_in_force(self):
        """The change that gave the machine the status it has: the latest of that status by its day.

        A change that was entered later for an earlier day, as a register file brings them, is not it.
        """
        changes = self.status_changes.filter(status=self.status).select_related("by")
        return changes.order_by("-changed_on", "-recorded_at", "-pk").first()


class StatusChange(models.Model):
    """A change of status with its date, person and reason. The first one puts the machine in service."""

    machine = models.ForeignKey(Machine, models.CASCADE, related_name="status_changes")
    status = models.CharField(max_length=12, choices=MachineStatus, db_column="duty")
    changed_on = models.DateField()
    reason = models.CharField(max_length=300)
    evidence = models.CharField(max_length=120, blank=True, help_text="Such as “Inspection 41”.")
    by = models.ForeignKey("fleet.Person", models.PROTECT, null=True, related_name="+")
    recorded_at = models.DateTimeField()

    objects = MachineRowQuerySet.as_manager()

    class Meta:
        ordering = ["-recorded_at", "-pk"]
        db_table = "fleet_dutychange"

    def __str__(self):
        return f"{self.machine} {self.status} from {self.changed_on}"
