"""The people who plan, test, sign and review."""

from django.contrib.auth.models import AbstractUser
from django.db import models
from django.utils.functional import cached_property

from fleet.models.places import Site


class Person(AbstractUser):
    """Somebody with a login. The groups say what the person may do, `sites` where."""

    sites = models.ManyToManyField(
        Site, blank=True, related_name="people", help_text="Narrows the person to these sites; none means all."
    )

    wants_digest = models.BooleanField(
        "mail me what to do",
        default=True,
        help_text="One plain e-mail in the morning, when there is something to do; none on other days.",
    )
    class Meta:
        ordering = ["last_name", "first_name", "username"]
        verbose_name_plural = "people"

    def __str__(self):
        return self.get_full_name() or self.username

    @cached_property
    def site_ids(self):
        """The sites that the person is narrowed to; empty means every site."""
        return list(self.sites.values_list("pk", flat=True))
