"""Tokens with which another program reads and writes through the API, with the rights of a person who confirmed it."""

from django.conf import settings
from django.contrib.auth.models import Group
from django.db import models
from django.db.models import Q

from fleet.models.querysets.tokens import ApiTokenQuerySet


class ApiToken(models.Model):
    """A token of one program. It may do what its group may, at the sites of its owner, while the owner is in the group.

    Who looks after accounts asks for it; its secret is made when the owner confirms it, and shown to the owner alone.
    Only the SHA-256 of the secret is kept. The secret is 256 random bits, so nothing slower is needed to guard it;
    `start` holds its first characters, by which people recognise it.
    """

    name = models.CharField(max_length=80, unique=True, help_text="The program that uses it, such as “Stores system”.")
    owner = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, related_name="api_tokens")
    group = models.ForeignKey(Group, models.PROTECT, related_name="+")
    digest = models.CharField(max_length=64, unique=True, null=True, blank=True, editable=False)
    start = models.CharField("first characters", max_length=16, blank=True, editable=False)
    expires_on = models.DateField(help_text="The last day on which it is accepted.")
    last_used_on = models.DateField(null=True, editable=False)
    added_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    added_at = models.DateTimeField()
    confirmed_at = models.DateTimeField(
        null=True, editable=False, help_text="When the owner confirmed it; until then it is not accepted."
    )
    predates_confirmation = models.BooleanField(
        default=False,
        editable=False,
        help_text="Issued before owners had to confirm tokens. It is accepted until its owner revokes it.",
    )
    revoked_by = models.ForeignKey(settings.AUTH_USER_MODEL, models.PROTECT, null=True, related_name="+")
    revoked_at = models.DateTimeField(null=True)

    objects = ApiTokenQuerySet.as_manager()

    class Meta:
        ordering = ["name"]
        constraints = [models.CheckConstraint(condition=~Q(name=""), name="api_token_has_a_name")]

    def __str__(self):
        return self.name

    @property
    def is_revoked(self):
        return self.revoked_at is not None

    @property
    def is_confirmed(self):
        return self.confirmed_at is not None

    @property
    def awaits_owner(self):
        """Return whether its owner has neither confirmed nor revoked it; an older token is accepted unconfirmed."""
        return not self.is_confirmed and not self.is_revoked

    def is_expired(self, today):
        return self.expires_on < today

    def may(self, permission):
        """Return whether the group of this token holds `permission`, such as “fleet.view_machine”; one query."""
        app_label, _, codename = permission.partition(".")
        held = self.group.permissions.filter(content_type__app_label=app_label, codename=codename)
        return held.exists()
