"""The people who plan, test, sign and review."""

from django.contrib.auth.models import AbstractUser
from django.db import models
from django.urls import reverse
from django.utils.functional import cached_property

from fleet.models.places import Site
from fleet.models.querysets.people import PersonManager
from fleet.models.querysets.prepared_queries import prepared


class Person(AbstractUser):
    """Somebody with a login. The groups decide what the person may do, `sites` where."""

    sites = models.ManyToManyField(
        Site, blank=True, related_name="people", help_text="Limits the person to these sites; none means all sites."
    )

    wants_digest = models.BooleanField(
        "email me what to do",
        default=True,
        help_text="One plain email in the morning of each day with something to do.",
    )

    closed_at = models.DateTimeField(
        null=True, editable=False, help_text="When the personal data were removed. The account is closed permanently."
    )
    sessions_ended = models.PositiveIntegerField(
        default=0, editable=False, help_text="How many times all sessions of the account were ended."
    )

    objects = PersonManager()

    class Meta:
        ordering = ["last_name", "first_name", "username"]
        verbose_name_plural = "people"
        permissions = [("manage_people", "Can manage accounts")]
        constraints = [
            models.CheckConstraint(
                condition=models.Q(closed_at=None) | models.Q(is_active=False), name="person_closed_is_locked"
            )
        ]

    def __str__(self):
        return self.in_words(self.first_name, self.last_name, self.username)

    def get_absolute_url(self):
        return reverse("fleet:person", args=[self.pk])

    @staticmethod
    def in_words(first_name, last_name, username):
        """Return how a person is named: in full, or as the login says where no name is known."""
        return f"{first_name} {last_name}".strip() or username

    @property
    def is_closed(self):
        return self.closed_at is not None

    def get_session_auth_hash(self):
        """As Django's, whose sessions end at a new password; here also at each increase of `sessions_ended`."""
        return self._session_hash(super().get_session_auth_hash())

    def get_session_auth_fallback_hash(self):
        for earlier in super().get_session_auth_fallback_hash():
            yield self._session_hash(earlier)

    def _session_hash(self, of_password):
        return f"{of_password}.{self.sessions_ended}" if self.sessions_ended else of_password

    @cached_property
    def site_ids(self):
        """Return the sites that the person is limited to; empty means every site."""
        return [site.pk for site in self._sites if site.is_own]

    @cached_property
    def only_site(self):
        """Return the site, where the person may see no other one; None with several."""
        seen = [site for site in self._sites if site.is_own] or self._sites
        return seen[0] if len(seen) == 1 else None

    @cached_property
    def _sites(self):
        """Return the person's own sites, and the first two of all (no own sites means every one). One query."""
        return _sites_of(self.pk)


@prepared
def _sites_of(person):
    own = Person.sites.through.objects.filter(person=person, site=models.OuterRef("pk"))
    first_two = Site.objects.order_by("pk").values("pk")[:2]
    marked = Site.objects.annotate(is_own=models.Exists(own))
    return marked.filter(models.Q(is_own=True) | models.Q(pk__in=first_two))
