"""Questions about readings, as QuerySet methods that read as English."""

from django.db import models


class ReadingQuestionQuerySet(models.QuerySet):
    def open(self):
        """Not answered, about a reading that is current."""
        return self.filter(answer="", reading__superseded_at=None)

    def of_step(self, step):
        return self.filter(reading__step=step)

    def of_inspection(self, inspection):
        return self.filter(reading__step__inspection=inspection)

    def with_readings(self):
        return self.select_related("reading", "changed_to", "by")
