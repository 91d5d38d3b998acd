"""Questions about drafts of procedures, as QuerySet methods that read as English."""

from fleet.acting.querysets import JournaledQuerySet


class ProcedureDraftQuerySet(JournaledQuerySet):
    def being_written(self):
        return self.filter(state="writing")

    def with_people(self):
        return self.select_related("procedure", "based_on__procedure", "made_by", "changed_by", "version__procedure")
