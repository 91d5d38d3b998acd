"""The email that lists what a person has to do, sent at most once a day."""

from django.db import models
from django.db.models import Q

from fleet.models.people import Person


class DigestQuerySet(models.QuerySet):
    def of(self, person):
        return self.filter(person=person)

    def with_month(self):
        """The emails that also reported the month, as managers get them."""
        return self.filter(tells_month=True)

    def since(self, day):
        return self.filter(on__gte=day)

    def sent(self):
        return self.exclude(sent_at=None)


class Digest(models.Model):
    """The mail of one person and day. The row is written before the mail is sent, so that none is sent twice."""

    person = models.ForeignKey(Person, models.CASCADE, related_name="digests")
    on = models.DateField()
    tells_month = models.BooleanField(default=False)
    begun_at = models.DateTimeField()
    sent_at = models.DateTimeField(null=True)

    objects = DigestQuerySet.as_manager()

    class Meta:
        ordering = ["-on", "-pk"]
        constraints = [
            models.UniqueConstraint(fields=["person", "on"], name="digest_once_a_day"),
            models.CheckConstraint(
                condition=Q(sent_at__isnull=True) | Q(sent_at__gte=models.F("begun_at")), name="digest_sent_after_begun"
            ),
        ]

    def __str__(self):
        return f"Digest {self.on}"
