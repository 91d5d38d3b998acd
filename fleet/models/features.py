"""The safety features of a machine, as dated history with evidence."""

from django.db import models
from django.db.models import F, Q

from fleet.acting.querysets import JournaledQuerySet
from fleet.catalogue import FEATURES, get_feature
from fleet.models.machines import Machine, MachineModel
from fleet.models.querysets.features import FeatureStateQuerySet


class State(models.TextChoices):
    FITTED = "fitted", "Fitted"
    NOT_FITTED = "not fitted", "Not fitted"
    NOT_KNOWN = "not known", "Not known"


class Evidence(models.TextChoices):
    MODEL_DEFAULT = "model default", "Model default"
    REGISTER = "register", "Imported register"
    SEEN = "seen", "Seen on the machine"
    RETROFIT = "retrofit", "Retrofit"
    INSPECTION = "inspection", "Inspection finding"


def feature_choices():
    return [(feature.code, feature.name) for feature in FEATURES.values()]


class FeatureRow(models.Model):
    """A catalogue feature with its state; the base of model defaults and machine histories."""

    feature = models.SlugField("safety feature", max_length=40, choices=feature_choices, db_index=False)
    state = models.CharField(max_length=12, choices=State)

    class Meta:
        abstract = True

    @property
    def catalogue_entry(self):
        return get_feature(self.feature)


class ModelFeature(FeatureRow):
    """A feature of a machine model when new; a new machine starts with it."""

    model = models.ForeignKey(MachineModel, models.CASCADE, related_name="features")

    objects = JournaledQuerySet.as_manager()

    class Meta:
        ordering = ["feature"]
        constraints = [models.UniqueConstraint(fields=["model", "feature"], name="model_feature_once")]

    def __str__(self):
        return f"{self.model}: {self.feature} {self.state}"


class FeatureState(FeatureRow):
    """One period in which a feature of a machine was in one state.

    `until_date` is the first day after the period, empty while it lasts. A row with `until_date` equal to `from_date`
    was corrected on the day it was recorded: it is history, and holds on no day.
    """

    span = ("from_date", "until_date")

    machine = models.ForeignKey(Machine, models.CASCADE, related_name="feature_states", db_index=False)
    from_date = models.DateField()
    until_date = models.DateField(null=True, blank=True, editable=False)
    evidence = models.CharField(max_length=20, choices=Evidence)
    note = models.CharField(max_length=300, blank=True)
    by = models.ForeignKey("fleet.Person", models.PROTECT, null=True, related_name="+")
    recorded_at = models.DateTimeField()

    objects = FeatureStateQuerySet.as_manager()

    class Meta:
        ordering = ["feature", "-from_date", "-pk"]
        constraints = [
            models.CheckConstraint(condition=Q(state__in=State.values), name="feature_state_known"),
            models.CheckConstraint(
                condition=Q(until_date__isnull=True) | Q(until_date__gte=F("from_date")), name="feature_state_in_order"
            ),
            models.UniqueConstraint(
                fields=["machine", "feature"], condition=Q(until_date__isnull=True), name="feature_state_one_open"
            ),
        ]
        indexes = [
            models.Index(fields=["feature", "state", "from_date"], name="feature_state_by_feature"),
            # Covers every column that a report over the fleet reads, so that the query reads the index alone.
            models.Index(
                fields=["machine", "feature", "state", "from_date", "until_date"], name="feature_state_by_machine"
            ),
            models.Index(
                fields=["recorded_at", "id"], name="feature_state_recorded", condition=~Q(evidence="model default")
            ),
        ]

    def __str__(self):
        return f"{self.machine}: {self.feature} {self.state} from {self.from_date}"
