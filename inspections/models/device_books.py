"""Device books that were made: of which machine, by whom, with which digest."""

from django.db import models

from fleet.models import Machine, Person
from fleet.models.querysets.scoped import MachineRowQuerySet


class DeviceBook(models.Model):
    """One device book that was handed out. `digest` is the SHA-256 of its data, which its paper bears as well.

    The book itself is not stored: whoever has it can prove by this row that it is one that was made here, unaltered.
    """

    machine = models.ForeignKey(Machine, models.PROTECT, related_name="device_books")
    digest = models.CharField(max_length=64)
    files = models.PositiveIntegerField(help_text="Attached files that went with it.")
    records = models.PositiveIntegerField(help_text="Signed records that went with it.")
    made_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    made_at = models.DateTimeField()

    objects = MachineRowQuerySet.as_manager()

    class Meta:
        ordering = ["-made_at", "-pk"]
        verbose_name = "device book"
        permissions = [("make_devicebook", "Can make device books")]

    def __str__(self):
        return f"device book of machine {self.machine}, {self.made_at:%Y-%m-%d}"
