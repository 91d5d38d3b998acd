"""What a person chose for work at the bench: units, instruments of a day, columns of files. A page starts with them.

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


class ReadingFileMapping(models.Model):
    """Where the columns of files of one kind of instrument go in a test, as last chosen.

    instrument  its name as the register has it, which its like share; empty for one that the register does not have
    digest      of the headers of the file, in any order
    columns     label of a column -> {"to": name of the place or of the column of a table, "unit": symbol or empty}
    decimal     the decimal sign of the file
    """

    instrument = models.CharField(max_length=100, blank=True)
    test_code = models.SlugField(max_length=40, db_index=False)
    digest = models.CharField(max_length=64)
    columns = models.JSONField()
    decimal = models.CharField(max_length=1)
    by = models.ForeignKey(Person, models.SET_NULL, null=True, related_name="+")
    said_at = models.DateTimeField()

    class Meta:
        ordering = ["instrument", "test_code", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["instrument", "test_code", "digest"], name="reading_file_mapping_once")
        ]

    def __str__(self):
        return f"{self.test_code}: {', '.join(self.columns)}"[:120]
