"""How often a procedure is planned on which machines, and which inspections another one settled."""

from django.db import models
from django.db.models import F, Q
from django.urls import reverse

from fleet.acting.querysets import JournaledQuerySet
from fleet.catalogue import FEATURES
from fleet.models import Area, Machine, MachineModel, Person, Site
from inspections.models.inspections import MOST_MINUTES, Inspection
from inspections.models.procedures import Procedure
from inspections.models.querysets.planning_rules import PlanningRuleQuerySet
from inspections.planning.rule_choice import REACH_WORDS, Interval, Reach, Rule

COLUMN_OF = {
    Reach.MACHINE: "machine", Reach.FEATURE: "feature", Reach.MODEL: "machine_model", Reach.AREA: "area",
    Reach.SITE: "site", Reach.ALL: "",
}  # fmt: skip
MOST_MONTHS, MOST_DAYS, MOST_WINDOW = 120, 365, 365


def feature_names():
    return [(code, one.name) for code, one in FEATURES.items()]


class RuleSource(models.TextChoices):
    MANUFACTURER = "manufacturer", "Manufacturer's instructions"
    LAW = "law", "Law or regulation"
    POLICY = "policy", "Policy of the department"
    EVIDENCE = "evidence", "Evidence from signed inspections"


def _names_one_scope():
    """A condition: the column of the reach names something, every other one nothing."""
    condition = Q(pk__in=[])
    for reach, own in COLUMN_OF.items():
        of_reach = Q(reach=reach.value)
        for column in filter(None, COLUMN_OF.values()):
            is_text = column == "feature"
            nothing = Q(feature="") if is_text else Q(**{f"{column}__isnull": True})
            of_reach &= ~Q(feature="") if is_text and column == own else nothing if column != own else ~nothing
        condition |= of_reach
    return condition


class PlanningRule(models.Model):
    """How often a procedure is planned on some machines, or that it is not planned there, with reason and source.

    reach       what the rule is for; exactly one of the columns that name a scope belongs to it
    is_planned  False says that the procedure is not planned there; then it has no interval
    until_date  the first day on which it counts no more: set by a later rule of the same scope, or when it is withdrawn
    minutes     how long the work takes there, where nothing was signed yet that would say so
    skills      names, with commas between, of what somebody must be confirmed for to be booked and to sign there
    begun_at, stopped_at  when the planned inspections were moved to its dates, and back to those without it
    """

    procedure = models.ForeignKey(Procedure, models.PROTECT, related_name="planning_rules")
    reach = models.CharField(max_length=10, choices=[(reach.value, words) for reach, words in REACH_WORDS.items()])
    machine = models.ForeignKey(Machine, models.PROTECT, null=True, blank=True, related_name="planning_rules")
    feature = models.SlugField("safety feature", max_length=40, blank=True, choices=feature_names, db_index=False)
    machine_model = models.ForeignKey(MachineModel, models.PROTECT, null=True, blank=True, related_name="+")
    area = models.ForeignKey(Area, models.PROTECT, null=True, blank=True, related_name="+")
    site = models.ForeignKey(Site, models.PROTECT, null=True, blank=True, related_name="+")
    is_planned = models.BooleanField(default=True)
    interval_months = models.PositiveSmallIntegerField(null=True, blank=True)
    interval_days = models.PositiveSmallIntegerField(null=True, blank=True)
    window_days = models.PositiveSmallIntegerField(null=True, blank=True)
    minutes = models.PositiveSmallIntegerField("expected minutes of work", null=True, blank=True)
    skills = models.CharField("skills that it asks for", max_length=300, blank=True)
    source = models.CharField("based on", max_length=12, choices=RuleSource)
    reference = models.CharField(max_length=300)
    reason = models.CharField(max_length=300)
    from_date = models.DateField()
    until_date = models.DateField(null=True, blank=True, editable=False)
    by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    at = models.DateTimeField()
    ended_reason = models.CharField(max_length=300, blank=True, editable=False)
    ended_by = models.ForeignKey(Person, models.PROTECT, null=True, related_name="+")
    ended_at = models.DateTimeField(null=True)
    begun_at = models.DateTimeField(null=True)
    stopped_at = models.DateTimeField(null=True)

    objects = PlanningRuleQuerySet.as_manager()

    class Meta:
        ordering = ["procedure__code", "-from_date", "-pk"]
        constraints = [
            models.CheckConstraint(condition=_names_one_scope(), name="planning_rule_one_scope"),
            models.CheckConstraint(
                condition=Q(is_planned=True, window_days__isnull=False)
                & (
                    Q(interval_months__gte=1, interval_months__lte=MOST_MONTHS, interval_days=None)
                    | Q(interval_days__gte=1, interval_days__lte=MOST_DAYS, interval_months=None)
                )
                | Q(is_planned=False, window_days=None, interval_months=None, interval_days=None, minutes=None),
                name="planning_rule_interval",
            ),
            models.CheckConstraint(condition=~Q(reason="") & ~Q(reference=""), name="planning_rule_has_reason"),
            models.CheckConstraint(
                condition=Q(until_date=None, ended_at=None) | Q(until_date__gte=F("from_date"), ended_at__isnull=False),
                name="planning_rule_in_order",
            ),
            models.CheckConstraint(
                condition=Q(minutes=None) | Q(minutes__gte=1, minutes__lte=MOST_MINUTES), name="planning_rule_minutes"
            ),
            models.CheckConstraint(
                condition=Q(is_planned=True) | Q(skills=""), name="planning_rule_skills_where_planned"
            ),
        ]

    def __str__(self):
        return f"Planning rule {self.pk}: {self.procedure}, {self.scope_words}"

    def get_absolute_url(self):
        return f"{reverse('inspections:planning_rules')}?procedure={self.procedure_id}"

    @property
    def target(self):
        """What its scope names: a row, the code of a safety feature, or None for all machines."""
        column = COLUMN_OF[self.reach]
        return getattr(self, column) if column else None

    @property
    def scope_words(self):
        """The machines that it is for, such as “machine model Norrfell Three” or “all machines”."""
        if self.reach == Reach.FEATURE:
            return f"machines with {FEATURES[self.feature].name.lower() if self.feature in FEATURES else self.feature}"
        named = {Reach.MACHINE: "machine", Reach.MODEL: "machine model", Reach.AREA: "area", Reach.SITE: "site"}
        return f"{named[self.reach]} {self.target}" if self.reach in named else REACH_WORDS[Reach.ALL]

    @property
    def interval(self):
        return Interval(self.interval_months, self.interval_days) if self.is_planned else None

    @property
    def interval_words(self):
        return str(self.interval) if self.is_planned else "not planned"

    @property
    def skill_names(self):
        return tuple(self.skills.split(", ")) if self.skills else ()

    @property
    def as_rule(self):
        """The rule as inspections/planning/ chooses among rules."""
        column = COLUMN_OF[self.reach]
        key = (
            {"": None, "feature": self.feature}[column] if column in ("", "feature") else getattr(self, f"{column}_id")
        )
        return Rule(
            number=self.pk or 0, reach=Reach(self.reach), target=key, from_date=self.from_date, interval=self.interval,
            window_days=self.window_days, source=self.source, skills=self.skill_names,
        )  # fmt: skip


class ContainedInspection(models.Model):
    """What a complete inspection did of a procedure that its version declares as contained. Written once.

    settled  the inspection of that procedure that was planned or booked and is thereby done; None where none was
    done_on  date of the signature at the site of the machine
    """

    done_in = models.ForeignKey(Inspection, models.PROTECT, related_name="contained")
    procedure = models.ForeignKey(Procedure, models.PROTECT, related_name="+")
    done_on = models.DateField()
    settled = models.OneToOneField(Inspection, models.PROTECT, null=True, related_name="settlement")
    at = models.DateTimeField()

    objects = JournaledQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]

    def __str__(self):
        return f"{self.procedure}, contained in {self.done_in}"
