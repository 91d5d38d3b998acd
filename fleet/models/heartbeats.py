"""Heartbeats of the processes of one installation, and the row that the health page writes."""

from django.db import models


class Heartbeat(models.Model):
    """The time of the last heartbeat: one row for each name."""

    name = models.SlugField(max_length=20, primary_key=True, db_index=False)
    at = models.DateTimeField()

    def __str__(self):
        return self.name
