"""What a class of procedures may leave open between inspections, as a department decided it."""

from django.db import models
from django.db.models import F, Q

from fleet.acting.querysets import JournaledQuerySet
from fleet.models import Person
from inspections.planning.interval_evidence import POLICIES

CLASSES = [(one.code, one.title) for one in POLICIES.values()]


class EvidencePolicy(models.Model):
    """One version of the policy of a class, with its source and reason. The latest one counts; dossiers keep theirs.

    most_share   the most that the upper bound of the mean share of time with a standing hidden failure may be
    confidence   of that upper bound, one-sided
    by           who confirmed it; proposed_by, who proposed it
    """

    code = models.CharField("class of procedures", max_length=20, choices=CLASSES)
    most_share = models.FloatField()
    confidence = models.FloatField()
    source = models.CharField(max_length=300)
    reason = models.CharField(max_length=300)
    proposed_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    at = models.DateTimeField()

    objects = JournaledQuerySet.as_manager()

    class Meta:
        ordering = ["-at", "-pk"]
        verbose_name_plural = "evidence policies"
        constraints = [
            models.CheckConstraint(
                condition=Q(most_share__gt=0, most_share__lt=1, confidence__gt=0.5, confidence__lt=1),
                name="evidence_policy_shares",
            ),
            models.CheckConstraint(condition=~Q(by=F("proposed_by")), name="evidence_policy_by_two"),
            models.CheckConstraint(condition=~Q(source="") & ~Q(reason=""), name="evidence_policy_has_reason"),
        ]

    def __str__(self):
        return f"Policy of the class “{self.get_code_display()}”"
