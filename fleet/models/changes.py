"""Who changed what, when, from what to what."""

from functools import cached_property

from django.apps import apps
from django.db import models

from fleet.acting.querysets import JournaledQuerySet
from fleet.models.attribution import author_in_words
from fleet.models.people import Person
from fleet.models.tokens import ApiToken


class ChangeEntry(models.Model):
    """One change of one row, shown on the page of a record. Entries are never changed or deleted.

    record, record_pk  the record on whose page the change is shown, such as "machine" and its key
    row, row_pk        the row that changed: the record itself, or a row of it such as a calibration
    about              names that row; empty if the record itself changed
    token              the token of `by` with which a program made the change; empty for a change by the person
    before, after      the fields that changed, by their labels; `before` is empty for something new
    """

    record = models.CharField(max_length=40)
    record_pk = models.BigIntegerField()
    row = models.CharField(max_length=80)
    row_pk = models.BigIntegerField()
    about = models.CharField(max_length=200, blank=True)
    by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    token = models.ForeignKey(ApiToken, models.PROTECT, null=True, related_name="+", db_index=False)
    at = models.DateTimeField()
    before = models.JSONField(default=dict)
    after = models.JSONField(default=dict)

    objects = JournaledQuerySet.as_manager()

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["record", "record_pk", "-at", "-id"], name="change_by_record")]
        verbose_name_plural = "change entries"

    def __str__(self):
        return f"{self.record} {self.record_pk} changed at {self.at:%Y-%m-%d %H:%M}"

    @property
    def author(self):
        """Return the author of the change as text."""
        return author_in_words(self.by, self.token) or "Bobbin itself, or a command"

    @property
    def is_new(self):
        return not self.before

    @property
    def lines(self):
        """Return label, value before and value after of every field that changed; None where there was none."""
        labels = dict.fromkeys([*self.before, *self.after])
        return [(label, self._shown(label, self.before), self._shown(label, self.after)) for label in labels]

    def _shown(self, label, values):
        """A choice is stored by its code and shown in the words of its label."""
        value = values.get(label)
        return self._choices.get((label, value), value) if isinstance(value, str) else value

    @cached_property
    def _choices(self):
        """Map (label of a field, stored code) to the words for it."""
        return {
            (_label(field), code): str(words).lower()
            for field in apps.get_model(self.row)._meta.fields
            for code, words in field.flatchoices or ()
        }


def _label(field):
    words = str(field.verbose_name)
    return words[:1].upper() + words[1:]
