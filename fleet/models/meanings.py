"""What values of register files mean, and rows of files that wait to be mended."""

from django.db import models

from fleet.models.people import Person
from fleet.models.places import Site
from fleet.models.querysets.uploads import ValueMeaningQuerySet, WaitingRowQuerySet
from fleet.models.uploads import RegisterUpload
from fleet.register_file import KINDS


class ValueMeaning(models.Model):
    """What a value in a column of a file means, as somebody answered: it is not asked about again.

    `written` is in lower case with single blanks. An empty `meaning` leaves the cell blank, unless the value `is_right`
    as it stands. `site` is the one within which the name of an area means this.
    """

    kind = models.SlugField(max_length=30, db_index=False)
    site = models.ForeignKey(Site, models.CASCADE, null=True, blank=True, related_name="value_meanings")
    column = models.SlugField(max_length=40, db_index=False)
    written = models.CharField(max_length=200)
    meaning = models.CharField(max_length=200, blank=True)
    is_right = models.BooleanField(default=False)
    by = models.ForeignKey(Person, models.SET_NULL, null=True, related_name="+")
    said_at = models.DateTimeField()

    objects = ValueMeaningQuerySet.as_manager()

    class Meta:
        ordering = ["column", "written", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["kind", "site", "column", "written"], name="value_meaning_once"),
            models.UniqueConstraint(
                fields=["kind", "column", "written"],
                condition=models.Q(site=None),
                name="value_meaning_once_for_every_site",
            ),
        ]

    def __str__(self):
        return f"{self.column}: {self.written}"

    @property
    def meaning_words(self):
        """The meaning as a page shows it."""
        if self.is_right:
            return "itself: right as written"
        return self.meaning or "nothing: the cell is left blank"

    @property
    def kind_words(self):
        return KINDS[self.kind].title


class WaitingRow(models.Model):
    """A row of an imported file that had a problem: it is not in the register, and waits to be mended.

    `key` identifies it among the rows of its kind; `problems` are (column, value, what is wrong, what is accepted).
    """

    upload = models.ForeignKey(RegisterUpload, models.CASCADE, related_name="waiting")
    number = models.PositiveIntegerField()
    key = models.CharField(max_length=300, blank=True)
    problems = models.JSONField(default=list)
    since = models.DateTimeField()

    objects = WaitingRowQuerySet.as_manager()

    class Meta:
        ordering = ["upload", "number"]
        constraints = [models.UniqueConstraint(fields=["upload", "number"], name="waiting_row_once")]

    def __str__(self):
        return f"row {self.number} of {self.upload}"
