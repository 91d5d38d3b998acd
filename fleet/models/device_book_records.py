"""What a device book holds beside the machine itself: its software, and the people who were instructed on it."""

from django.db import models
from django.db.models import F, Q

from fleet.models.machines import Machine, MachineModel
from fleet.models.places import Area
from fleet.models.querysets.device_book_records import DeviceBookRecordQuerySet

MOST_PEOPLE = 60  # instructed at once


class Withdrawable(models.Model):
    """A row that stays stored once it is withdrawn as a mistake."""

    by = models.ForeignKey("fleet.Person", models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()
    withdrawn_by = models.ForeignKey("fleet.Person", models.PROTECT, null=True, related_name="+")
    withdrawn_at = models.DateTimeField(null=True)
    withdrawn_reason = models.CharField(max_length=300, blank=True)

    objects = DeviceBookRecordQuerySet.as_manager()

    class Meta:
        abstract = True


class SoftwareVersion(Withdrawable):
    """A version of software that was installed on a machine, or found on it, on a day.

    part  what it runs on, such as “ventilator”; empty for the machine as a whole
    """

    machine = models.ForeignKey(Machine, models.PROTECT, related_name="software_versions")
    part = models.CharField("software of", max_length=80, blank=True)
    version = models.CharField(max_length=60)
    installed_on = models.DateField("installed, or read, on")
    source = models.CharField(max_length=300)

    class Meta:
        ordering = ["-installed_on", "-pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(version="") & ~Q(source=""), name="software_version_has_source"),
            models.CheckConstraint(
                condition=Q(withdrawn_at=None) | ~Q(withdrawn_reason=""), name="software_version_withdrawn_with_reason"
            ),
        ]

    def __str__(self):
        return f"Software {self.version}{f' of {self.part}' if self.part else ''} on {self.machine}"


class UserInstruction(Withdrawable):
    """That somebody was instructed on a machine, or on every machine of a model in an area.

    name  of the user, who need not have an account here
    """

    machine = models.ForeignKey(Machine, models.PROTECT, null=True, blank=True, related_name="instructions")
    machine_model = models.ForeignKey(MachineModel, models.PROTECT, null=True, blank=True, related_name="+")
    area = models.ForeignKey(Area, models.PROTECT, null=True, blank=True, related_name="+")
    name = models.CharField("person instructed", max_length=120)
    held_on = models.DateField("instructed on")
    instructor = models.CharField("instructed by", max_length=120)
    topics = models.CharField(max_length=500)
    valid_until = models.DateField(null=True, blank=True)
    reference = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["-held_on", "name", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(machine__isnull=False, machine_model=None, area=None)
                | Q(machine=None, machine_model__isnull=False, area__isnull=False),
                name="instruction_on_machine_or_model",
            ),
            models.CheckConstraint(
                condition=Q(valid_until=None) | Q(valid_until__gte=F("held_on")), name="instruction_days_in_order"
            ),
            models.CheckConstraint(
                condition=Q(withdrawn_at=None) | ~Q(withdrawn_reason=""), name="instruction_withdrawn_with_reason"
            ),
        ]

    def __str__(self):
        return f"Instruction of {self.name} on {self.subject}"

    @property
    def subject(self):
        return str(self.machine) if self.machine_id else f"every {self.machine_model} in {self.area}"

    def has_ended(self, today):
        return self.valid_until is not None and self.valid_until < today
