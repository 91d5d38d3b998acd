"""Published limits that somebody looked at for a site and left as they are proposed, without confirming them."""

from django.db import models
from django.db.models import Q

from fleet.models import Person, Site
from fleet.models.querysets.scoped import SiteScopedQuerySet


class LimitLeftQuerySet(SiteScopedQuerySet):
    def in_force(self):
        return self.filter(taken_back_at=None)


class LimitLeft(models.Model):
    """That a limit was looked at and left as proposed: results still say that it is not confirmed.

    code  what identifies the limit (LimitAtSite.code): once the limit changes, the new one is not looked at

    One that was taken back stays in the table, and the limit counts as not looked at.
    """

    site = models.ForeignKey(Site, models.PROTECT, related_name="limits_left")
    test_code = models.SlugField(max_length=40, db_index=False)
    result_key = models.SlugField("result", max_length=60, db_index=False)
    code = models.SlugField(max_length=16, db_index=False)
    reason = models.CharField(max_length=300)
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    at = models.DateTimeField()
    taken_back_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    taken_back_at = models.DateTimeField(null=True)
    taken_back_reason = models.CharField(max_length=300, blank=True)

    objects = LimitLeftQuerySet.as_manager()

    class Meta:
        ordering = ["test_code", "result_key", "pk"]
        verbose_name_plural = "limits left as proposed"
        constraints = [
            models.UniqueConstraint(
                fields=["site", "code"], condition=Q(taken_back_at=None), name="limit_left_once_at_a_time"
            ),
            models.CheckConstraint(condition=~Q(reason=""), name="limit_left_with_reason"),
            models.CheckConstraint(
                condition=Q(taken_back_by=None, taken_back_at=None)
                | (Q(taken_back_by__isnull=False, taken_back_at__isnull=False) & ~Q(taken_back_reason="")),
                name="limit_left_taken_back_by_someone",
            ),
        ]

    def __str__(self):
        return f"{self.test_code} {self.result_key} left as proposed at {self.site}"
