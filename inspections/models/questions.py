"""Questions about readings: what was asked when one was entered, and how it was answered."""

from django.db import models
from django.db.models import Q

from fleet.models import Person
from inspections.models.querysets.questions import ReadingQuestionQuerySet
from inspections.models.readings import Reading


class QuestionKind(models.TextChoices):
    SLIP = "slip", "another unit, a shifted point or swapped digits"
    PAIR = "pair", "two readings that cannot both be right"
    TREND = "trend", "a result that departs from the trend of the machine"


class QuestionAnswer(models.TextChoices):
    OPEN = "", "not answered"
    RIGHT = "right", "right as it is"
    CHANGED = "changed", "another reading was entered"


class ReadingQuestion(models.Model):
    """A doubt about one reading, in the words in which it was asked. An unanswered one prevents nothing.

    alternatives  what may have been meant, the likeliest first: digits and unit of each
    changed_to    the reading that was entered instead; with a pair also of the other place; empty if it was taken back
    """

    reading = models.ForeignKey(Reading, models.CASCADE, related_name="questions")
    kind = models.CharField(max_length=8, choices=QuestionKind)
    asked = models.CharField(max_length=400)
    alternatives = models.JSONField(default=list)
    asked_at = models.DateTimeField()
    answer = models.CharField(max_length=8, choices=QuestionAnswer, blank=True)
    changed_to = models.ForeignKey(Reading, models.RESTRICT, null=True, related_name="+")
    by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField(null=True)

    objects = ReadingQuestionQuerySet.as_manager()

    class Meta:
        ordering = ["reading", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["reading", "kind"], name="question_once_per_reading"),
            models.CheckConstraint(
                condition=Q(answer="", by=None, at=None)
                | Q(answer__in=("right", "changed"), by__isnull=False, at__isnull=False),
                name="question_answered_by_someone",
            ),
            models.CheckConstraint(
                condition=Q(changed_to=None) | Q(answer="changed"), name="question_changed_to_a_reading"
            ),
        ]

    def __str__(self):
        return self.asked

    @property
    def is_open(self):
        return self.answer == QuestionAnswer.OPEN

    @property
    def offers(self):
        """The alternatives as (number, text), such as (0, “45 psi”)."""
        return [(number, f"{one['as_read']} {one['unit']}") for number, one in enumerate(self.alternatives)]

    @property
    def answer_words(self):
        """The answer as the record states it, such as “corrected to 45 psi”."""
        if self.answer == QuestionAnswer.RIGHT:
            return f"{self.reading} is right"
        if self.answer == QuestionAnswer.CHANGED:
            return f"corrected to {self.changed_to}" if self.changed_to else "the reading was taken back"
        return "not answered"
