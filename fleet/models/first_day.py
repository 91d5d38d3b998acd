"""The guided start on Home, and who has put it away."""

from django.db import models

from fleet.models.people import Person


class StartPutAway(models.Model):
    """A person who does not want to see the steps of a department's first day on Home any more."""

    person = models.OneToOneField(Person, models.CASCADE, related_name="start_put_away")
    put_away_at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]

    def __str__(self):
        return f"guided start put away by {self.person}"
