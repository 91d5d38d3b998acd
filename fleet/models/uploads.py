"""Register files between upload and confirmation, and the chosen meaning of their columns."""

from django.db import models
from django.urls import reverse

from fleet.models.people import Person
from fleet.models.querysets.uploads import RegisterUploadQuerySet
from fleet.register_file import KINDS, Settings


class RegisterUpload(models.Model):
    """An uploaded register file, stored so that the import uses exactly what was previewed.

    `settings` is how a person chose to read it; `snapshot` is what it would change, as last computed
    (fleet/imports/snapshot.py).
    """

    name = models.CharField(max_length=120)
    kind = models.SlugField(max_length=30, default="machines", db_index=False)
    content = models.BinaryField()
    settings = models.JSONField(default=dict)
    snapshot = models.JSONField(null=True)
    by = models.ForeignKey(Person, models.CASCADE, related_name="register_uploads")
    uploaded_at = models.DateTimeField()
    imported_at = models.DateTimeField(null=True)
    rest_of = models.ForeignKey(
        "self",
        models.CASCADE,
        null=True,
        related_name="readings_again",
        help_text="The import whose waiting rows this reads again.",
    )

    objects = RegisterUploadQuerySet.as_manager()

    class Meta:
        ordering = ["-uploaded_at", "-pk"]

    def __str__(self):
        return self.name

    def get_absolute_url(self):
        return reverse("fleet:import_preview", args=[self.pk])

    @property
    def file_kind(self):
        return KINDS[self.kind]

    @property
    def read_settings(self):
        return Settings(**self.settings)


class ColumnMapping(models.Model):
    """The meaning of the columns of files with one set of headers, as last chosen: label -> column, "" = left out."""

    kind = models.SlugField(max_length=30, db_index=False)
    digest = models.CharField(max_length=64)
    columns = models.JSONField()
    by = models.ForeignKey(Person, models.SET_NULL, null=True, related_name="+")
    said_at = models.DateTimeField()

    class Meta:
        ordering = ["kind", "pk"]
        constraints = [models.UniqueConstraint(fields=["kind", "digest"], name="column_mapping_once")]

    def __str__(self):
        return f"{self.kind}: {', '.join(self.columns)}"[:120]
