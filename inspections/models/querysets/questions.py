"""Questions about readings, as QuerySet methods that read as English."""

from fleet.models.querysets.scoped import SiteScopedQuerySet


class ReadingQuestionQuerySet(SiteScopedQuerySet):
    site_path = "reading__step__inspection__machine__area__site"

    def open(self):
        """Not answered, about a reading that is current."""
        return self.filter(answer="", reading__superseded_at=None)

    def of_step(self, step):
        return self.filter(reading__step=step)

    def of_inspection(self, inspection):
        return self.filter(reading__step__inspection=inspection)

    def with_readings(self):
        return self.select_related("reading", "changed_to", "by")
