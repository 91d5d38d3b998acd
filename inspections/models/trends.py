"""Stored forecasts: where the trend of one result of one machine leads. Computed from signed results, never entered."""

from django.db import models
from django.db.models import Q
from django.utils.functional import cached_property

from fleet.models import Machine
from inspections.models.querysets.trends import TrendForecastQuerySet
from inspections.models.readings import Result
from inspections.trends import Advice, fitted_from


class TrendForecast(models.Model):
    """The trend of one result of a machine, from at least three signed inspections; SI units, a year is 365.25 days.

    latest   the last result that it rests on; limits are those of that result
    value    what is expected on the day `due_on`, with the interval `lower` to `upper` that holds it nine times of ten
    slope    drift in a year, with its interval in the same way
    chance   probability of a result outside the limits on that day; null without limits
    chance_without_measuring  the same if the measurement added nothing to the drift
    beyond_on  first day on which `chance` passes the policy; null if not within ten years
    *_share  parts of the variance: not knowing the drift, the machine's own scatter, the measurement
    terms    the trend as `inspections.trends.terms_of` gives it
    """

    class AdviceWord(models.TextChoices):
        NOTHING = str(Advice.NOTHING), "Nothing to do"
        COME_EARLIER = str(Advice.COME_EARLIER), "Come earlier"
        MEASURE_BETTER = str(Advice.MEASURE_BETTER), "Measure better"

    machine = models.ForeignKey(Machine, models.CASCADE, related_name="trend_forecasts")
    test_code = models.SlugField(max_length=40, db_index=False)
    subject = models.CharField(max_length=80, blank=True)
    key = models.SlugField(max_length=60, db_index=False)
    latest = models.ForeignKey(Result, models.CASCADE, related_name="+")
    results = models.PositiveSmallIntegerField(help_text="Signed results since the last repair.")
    due_on = models.DateField()
    value = models.FloatField()
    lower = models.FloatField()
    upper = models.FloatField()
    slope = models.FloatField()
    slope_lower = models.FloatField()
    slope_upper = models.FloatField()
    chance = models.FloatField(null=True)
    chance_without_measuring = models.FloatField(null=True)
    beyond_on = models.DateField(null=True)
    advice = models.CharField(max_length=20, choices=AdviceWord, default=AdviceWord.NOTHING)
    drift_share = models.FloatField()
    machine_share = models.FloatField()
    measured_share = models.FloatField()
    terms = models.JSONField()
    made_at = models.DateTimeField()

    objects = TrendForecastQuerySet.as_manager()

    class Meta:
        ordering = ["machine", "pk"]
        constraints = [
            models.UniqueConstraint(fields=["machine", "test_code", "subject", "key"], name="trend_once_per_result"),
            models.CheckConstraint(
                condition=Q(chance=None) | Q(chance__gte=0, chance__lte=1), name="trend_chance_is_one"
            ),
        ]
        indexes = [models.Index(fields=["advice"], name="trend_by_advice")]

    def __str__(self):
        return f"{self.machine}: {self.latest.label.lower()}"

    @cached_property
    def fitted(self):
        """The trend, for predictions on other days."""
        return fitted_from([self.terms])
