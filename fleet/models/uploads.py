"""Register files between upload and confirmation."""

from django.db import models
from django.urls import reverse

from fleet.models.people import Person


class RegisterUpload(models.Model):
    """An uploaded register file, kept so that what is confirmed is what was previewed."""

    name = models.CharField(max_length=120)
    content = models.BinaryField()
    by = models.ForeignKey(Person, models.CASCADE, related_name="register_uploads")
    uploaded_at = models.DateTimeField()
    imported_at = models.DateTimeField(null=True)

    class Meta:
        ordering = ["-uploaded_at", "-pk"]

    def __str__(self):
        return self.name

    def get_absolute_url(self):
        return reverse("fleet:import_preview", args=[self.pk])
