"""What a person judged about a machine, where a criterion of the retirement review cannot be computed."""

from django.db import models

from fleet.acting.querysets import JournaledQuerySet
from fleet.models import Machine, Person


class CriterionJudgement(models.Model):
    """An answer to one criterion for one machine, with the reason. The latest one counts, earlier ones stay."""

    class Answer(models.TextChoices):
        MET = "met", "Met"
        NOT_MET = "not met", "Not met"

    machine = models.ForeignKey(Machine, models.CASCADE, related_name="judgements")
    criterion = models.CharField(max_length=8)
    answer = models.CharField(max_length=10, choices=Answer)
    reason = models.CharField(max_length=300)
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    at = models.DateTimeField()

    objects = JournaledQuerySet.as_manager()

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["machine", "criterion", "-at"], name="judgement_latest")]
        permissions = [
            ("view_review", "Can read the retirement review"),
            ("judge_review", "Can judge criteria of the retirement review"),
        ]

    def __str__(self):
        return f"{self.machine} {self.criterion} {self.answer}"
