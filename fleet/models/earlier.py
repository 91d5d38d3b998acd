"""Inspections that were done before Bobbin, or outside it, as their old records state them."""

from django.db import models

from fleet.models.machines import Machine
from fleet.models.querysets.scoped import MachineRowQuerySet


class EarlierInspection(models.Model):
    """An inspection recorded elsewhere: its date and the text of the old record. Bobbin computed and judged nothing.

    `counts_as` is the code of the procedure that it counts as for the next due date, if somebody chose one.
    """

    machine = models.ForeignKey(Machine, models.CASCADE, related_name="earlier_inspections")
    done_on = models.DateField()
    procedure = models.CharField(max_length=120, help_text="What was done, as worded in the old record.")
    result = models.CharField(max_length=200, blank=True)
    done_by = models.CharField(max_length=100, blank=True)
    reference = models.CharField(max_length=80, blank=True, help_text="Number of the old record.")
    counts_as = models.SlugField(max_length=40, blank=True, db_index=False)
    source = models.CharField(max_length=120, help_text="The file from which it was imported.")
    by = models.ForeignKey("fleet.Person", models.PROTECT, null=True, related_name="+")
    recorded_at = models.DateTimeField()

    objects = MachineRowQuerySet.as_manager()

    class Meta:
        ordering = ["-done_on", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["machine", "done_on", "procedure"], name="earlier_inspection_once")
        ]

    def __str__(self):
        return f"{self.procedure} on {self.done_on} (recorded elsewhere)"
