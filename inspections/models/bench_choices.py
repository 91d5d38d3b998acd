"""What a person chose for work at the bench: units, and the instruments of a day. A page starts with them.

Nothing is decided by them: an inspection holds its own units, and a reading its own unit and instrument.
"""

from django.db import models

from fleet.models import Instrument, Person, Site


class BenchUnits(models.Model):
    """The units that a person chose last, by code of a UnitChoice; empty text for “as asked”."""

    person = models.OneToOneField(Person, models.CASCADE, related_name="bench_units")
    units = models.JSONField(default=dict)

    class Meta:
        verbose_name_plural = "units at the bench"

    def __str__(self):
        return f"units of {self.person}"


class InstrumentOfDay(models.Model):
    """One instrument of the test set that a person uses at a site on a day."""

    person = models.ForeignKey(Person, models.CASCADE, related_name="instruments_of_day")
    site = models.ForeignKey(Site, models.CASCADE, related_name="+")
    day = models.DateField()
    instrument = models.ForeignKey(Instrument, models.CASCADE, related_name="+")

    class Meta:
        verbose_name_plural = "instruments of a day"
        ordering = ["person", "site", "day", "instrument"]
        constraints = [
            models.UniqueConstraint(fields=["person", "site", "day", "instrument"], name="instrument_of_day_once")
        ]

    def __str__(self):
        return f"{self.instrument} on {self.day}"
