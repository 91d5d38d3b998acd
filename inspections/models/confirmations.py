"""Limits that somebody confirmed for a site: looked up in the edition that is in force there."""

from django.db import models
from django.db.models import Q

from fleet.models import Person, Site
from inspections.models.querysets.limits import LimitConfirmationQuerySet


class LimitConfirmation(models.Model):
    """One published limit as it was confirmed for one site, by which edition, by whom and when.

    Result, rule, edition of the rule and figures (SI, as text) identify the limit: once one of them changes, the limit
    is another and is not confirmed. A confirmation that was withdrawn stays in the table.
    """

    site = models.ForeignKey(Site, models.PROTECT, related_name="limit_confirmations")
    test_code = models.SlugField(max_length=40, db_index=False)
    result_key = models.SlugField("result", max_length=60, db_index=False)
    rule = models.SlugField(max_length=60, db_index=False)
    rule_edition = models.CharField(max_length=120, blank=True)
    lower_si = models.CharField(max_length=20, blank=True)
    upper_si = models.CharField(max_length=20, blank=True)
    edition = models.CharField(max_length=120, help_text="The publication, edition and page in which it was looked up.")
    reason = models.CharField(max_length=300)
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    at = models.DateTimeField()
    withdrawn_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    withdrawn_at = models.DateTimeField(null=True)
    withdrawn_reason = models.CharField(max_length=300, blank=True)

    objects = LimitConfirmationQuerySet.as_manager()

    class Meta:
        ordering = ["test_code", "result_key", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["site", "test_code", "result_key", "rule", "rule_edition", "lower_si", "upper_si"],
                condition=Q(withdrawn_at=None), name="limit_confirmed_once",
            ),
            models.CheckConstraint(condition=~Q(edition="") & ~Q(reason=""), name="limit_confirmed_by_an_edition"),
            models.CheckConstraint(
                condition=Q(withdrawn_by=None, withdrawn_at=None)
                | (Q(withdrawn_by__isnull=False, withdrawn_at__isnull=False) & ~Q(withdrawn_reason="")),
                name="limit_confirmation_withdrawn_by_someone",
            ),
        ]  # fmt: skip

    def __str__(self):
        return f"{self.test_code} {self.result_key} by {self.rule} at {self.site}"

    @property
    def key(self):
        """What identifies the limit, as `confirmation_key` of a limit returns it."""
        named = (self.test_code, self.result_key, self.rule, self.rule_edition)
        return (*named, self.lower_si, self.upper_si) if self.lower_si or self.upper_si else named

    @property
    def words(self):
        """“ISO 7396-1:2016, page 12, Ana Ferro on 2026-11-02”, as a record keeps it."""
        return f"{self.edition}, {self.by} on {self.site.date_of(self.at).isoformat()}"
