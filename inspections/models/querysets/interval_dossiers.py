"""Questions about dossiers of intervals, as QuerySet methods that read as English."""

from fleet.acting.querysets import JournaledQuerySet


class IntervalDossierQuerySet(JournaledQuerySet):
    def with_scope(self):
        return self.select_related("procedure", "machine_model", "drafted_by", "approved_by", "rule", "replaced")

    def drafts(self):
        return self.filter(state="draft")

    def in_force(self):
        return self.filter(state="in force")

    def withdrawn_since(self, moment):
        """Those that withdrew themselves since a moment, the newest first."""
        return self.filter(state="withdrawn", ended_at__gte=moment).order_by("-ended_at", "-pk")

    def of_scope(self, dossier):
        """Dossiers for the same procedure and the same machines."""
        return self.filter(procedure=dossier.procedure_id, machine_model=dossier.machine_model_id)
