"""Passkeys: keys on a person's own devices, with which the person signs instead of typing the password again."""

from django.conf import settings
from django.db import models
from django.db.models import Q

from fleet.acting.querysets import JournaledQuerySet


class Passkey(models.Model):
    """The public half of a key that one device, or one account at a device's manufacturer, holds for a person.

    `credential` and `public_key` are base64url text. `sign_count` is what the device counted at the last use; many
    devices count nothing and always say 0.
    """

    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="passkeys")
    name = models.CharField(max_length=60, help_text="The device that holds it, such as “Tablet of workshop 2”.")
    credential = models.CharField(max_length=1400, unique=True, editable=False)
    public_key = models.TextField(editable=False)
    sign_count = models.BigIntegerField(default=0, editable=False)
    added_at = models.DateTimeField(editable=False)
    used_at = models.DateTimeField(null=True, editable=False)

    objects = JournaledQuerySet.as_manager()

    class Meta:
        ordering = ["person", "added_at", "pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(name=""), name="passkey_has_a_name"),
            models.UniqueConstraint(fields=["person", "name"], name="passkey_name_once_per_person"),
        ]

    def __str__(self):
        return self.name


class PasskeyChallenge(models.Model):
    """A random text that a passkey must sign, once and soon, in one session of one person, for one act.

    `session` and `act` are digests: of the session's key, and of the address and fields of the form that is sent.
    """

    person = models.ForeignKey(settings.AUTH_USER_MODEL, models.CASCADE, related_name="+")
    session = models.CharField(max_length=64)
    act = models.CharField(max_length=64)
    challenge = models.CharField(max_length=100, unique=True)
    made_at = models.DateTimeField()

    class Meta:
        ordering = ["made_at", "pk"]

    def __str__(self):
        return f"Challenge for {self.person}"
