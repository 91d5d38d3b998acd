"""Components that were replaced during an inspection."""

from django.db import models
from django.db.models import Q

from fleet.acting.querysets import JournaledQuerySet
from fleet.models import Component, Person
from inspections.models.inspections import InspectionStep


class ReplacementQuerySet(JournaledQuerySet):
    def in_force(self):
        """Those that nobody withdrew."""
        return self.filter(withdrawn_at=None)

    def of(self, inspection):
        """Those in force in an inspection, in the order of work."""
        found = self.in_force().filter(step__inspection=inspection)
        return found.select_related("step", "component__removed_in", "by").order_by("done_at", "pk")


class Replacement(models.Model):
    """A component of the machine that was replaced at a step. The gas circuit changes with the signature.

    component  its record; empty where the machine had no records of its own and `code` names it in the model's circuit
    done_at    when it was replaced: what was read earlier was read of the old component
    fitted     the record of the new one, made by the signature
    """

    step = models.ForeignKey(InspectionStep, models.CASCADE, related_name="replacements")
    component = models.ForeignKey(Component, models.PROTECT, null=True, related_name="+")
    code = models.SlugField(max_length=60, db_index=False)
    kind = models.SlugField(max_length=40, db_index=False)
    label = models.CharField(max_length=80)
    gas = models.SlugField(max_length=20, blank=True, db_index=False)
    removed_serial = models.CharField("serial of the removed one", max_length=60, blank=True)
    removed_lot = models.CharField("lot of the removed one", max_length=60, blank=True)
    removed_part_number = models.CharField("part number of the removed one", max_length=60, blank=True)
    fitted_serial = models.CharField("serial", max_length=60, blank=True)
    fitted_lot = models.CharField("lot", max_length=60, blank=True)
    fitted_part_number = models.CharField("part number", max_length=60, blank=True)
    note = models.CharField(max_length=300, blank=True)
    done_at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    at = models.DateTimeField()
    withdrawn_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    withdrawn_at = models.DateTimeField(null=True)
    fitted = models.ForeignKey(Component, models.PROTECT, null=True, related_name="+")

    objects = ReplacementQuerySet.as_manager()

    class Meta:
        verbose_name = "component replaced"
        verbose_name_plural = "components replaced"
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(withdrawn_by=None, withdrawn_at=None)
                | Q(withdrawn_by__isnull=False, withdrawn_at__isnull=False, fitted=None),
                name="replacement_withdrawn_by_someone",
            )
        ]

    def __str__(self):
        return self.label

    @property
    def removed_words(self):
        """“serial A-1, lot L-2”, or that none of it is known."""
        return _plate(self.removed_serial, self.removed_lot, self.removed_part_number)

    @property
    def fitted_words(self):
        return _plate(self.fitted_serial, self.fitted_lot, self.fitted_part_number)


def _plate(serial, lot, part_number):
    named = (("serial", serial), ("lot", lot), ("part number", part_number))
    return ", ".join(f"{name} {text}" for name, text in named if text) or "no serial, lot or part number entered"
