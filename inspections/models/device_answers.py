"""The changes that devices sent, by their keys, so that none of them is made twice."""

from django.db import models

from fleet.models import Person


class DeviceAnswer(models.Model):
    """One change that was made, stored in its transaction. The same key again gets the same answer and changes nothing.

    A request that changed nothing, such as a refused one, is not stored: it is answered anew.
    """

    person = models.ForeignKey(Person, models.CASCADE, related_name="+")
    key = models.UUIDField(unique=True)
    address = models.CharField(max_length=300)
    status = models.PositiveSmallIntegerField(default=0)
    headers = models.JSONField(default=dict)
    at = models.DateTimeField(db_index=True)

    class Meta:
        ordering = ["pk"]
        verbose_name = "answer to a device"
        verbose_name_plural = "answers to devices"

    def __str__(self):
        return f"Answer to {self.key}"
