"""What holds for each machine now, in one row, so that lists and counts read no history (fleet/current_state)."""

from django.db import models

from fleet.models.machines import Machine, MachineModel
from fleet.models.places import Area, Site
from fleet.models.querysets.current_states import CurrentStateQuerySet


class CurrentState(models.Model):
    """The current state of a machine: computed from its records at the end of each action that changes one of them.

    It holds days, never “overdue”: what is late follows from the day of whoever asks. Features are bits, by
    `fleet.catalogue.feature_bits`. Machines that an import is still entering have no row.

    searched    its asset number and its serial, on a line each
    holds_from  the first day from which its safety features are as the row says; for an earlier day the history counts
    """

    machine = models.OneToOneField(Machine, models.CASCADE, primary_key=True, related_name="current")
    asset_number = models.CharField(max_length=40)
    searched = models.CharField(max_length=120)
    status = models.CharField(max_length=12)
    site = models.ForeignKey(Site, models.CASCADE, related_name="+", db_index=False)
    area = models.ForeignKey(Area, models.CASCADE, related_name="+", db_index=False)
    model = models.ForeignKey(MachineModel, models.CASCADE, related_name="+", db_index=False)
    is_away = models.BooleanField()
    fitted = models.BigIntegerField()
    not_fitted = models.BigIntegerField()
    gaps = models.BigIntegerField()
    doubts = models.BigIntegerField()
    missing = models.PositiveSmallIntegerField(help_text="How many essential safety features are gaps.")
    holds_from = models.DateField()
    next_due_id = models.BigIntegerField(null=True)
    next_due_on = models.DateField(null=True)
    next_closes_on = models.DateField(null=True)
    open_findings = models.PositiveIntegerField()
    essential_findings = models.PositiveIntegerField()

    objects = CurrentStateQuerySet.as_manager()

    class Meta:
        ordering = ["asset_number"]
        indexes = [
            # With the status and the site, so that the rows before a page are skipped within the index.
            models.Index(fields=["missing", "asset_number", "status", "site"], name="current_by_missing"),
            models.Index(fields=["-missing", "asset_number", "status", "site"], name="current_by_most_missing"),
            models.Index(fields=["next_due_on", "asset_number", "status", "site"], name="current_by_due"),
            models.Index(fields=["asset_number", "status", "site"], name="current_by_number"),
            # A list by model or place walks the few models or areas in order, and the machines of each by their key.
            models.Index(fields=["model", "machine", "status", "site"], name="current_by_model"),
            models.Index(fields=["area", "machine", "status", "site"], name="current_by_area"),
            # The cover report counts by what is missing and in doubt: within the index, in its order.
            models.Index(fields=["gaps", "doubts", "status", "site"], name="current_by_gaps"),
            models.Index(fields=["holds_from"], name="current_by_day"),
            # A search reads the text of every machine, in the order of asset numbers, and nothing else of it.
            models.Index(fields=["searched", "model", "area", "status", "site", "machine"], name="current_searched"),
        ]

    def __str__(self):
        return self.asset_number


class CurrentStateRules(models.Model):
    """The rules by which every row of CurrentState was computed; without this row none of them is used."""

    rules = models.CharField(max_length=16)
    filled_at = models.DateTimeField()

    def __str__(self):
        return self.rules
