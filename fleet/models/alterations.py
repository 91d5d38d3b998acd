"""One alteration planned on many machines, and what became of it on each."""

from django.db import models
from django.db.models import Q

from fleet.catalogue import AGENTS
from fleet.catalogue.currencies import currency_choices
from fleet.circuit.alterations import ALTERATIONS
from fleet.models.components import CircuitChange
from fleet.models.machines import Machine
from fleet.models.money import amount
from fleet.models.people import Person
from fleet.models.querysets.alterations import (
    AlterationEffectQuerySet,
    AlterationOfMachineQuerySet,
    AlterationPlanQuerySet,
)
from fleet.web.key_addresses import key_address


def alteration_choices():
    return [(kind.code, kind.name) for kind in ALTERATIONS.values()]


def agent_choices():
    return [(agent.code, agent.name) for agent in AGENTS.values()]


class AlterationPlan(models.Model):
    """One alteration that is planned on a list of machines.

    `minutes_each` and `price_each` are the author's own estimates, which count where no price of the alteration is
    entered for the model of a machine.
    """

    kind = models.SlugField("alteration", max_length=40, choices=alteration_choices, db_index=False)
    agent = models.SlugField(max_length=20, blank=True, choices=agent_choices, db_index=False)
    title = models.CharField(max_length=120)
    reason = models.TextField(max_length=2000)
    from_date = models.DateField("from")
    minutes_each = models.PositiveSmallIntegerField("minutes for each machine", null=True, blank=True)
    price_each = amount("price for each machine", null=True, blank=True)
    currency = models.CharField(max_length=3, blank=True, choices=currency_choices)
    price_source = models.CharField("source of the price", max_length=200, blank=True)
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    at = models.DateTimeField()

    objects = AlterationPlanQuerySet.as_manager()

    class Meta:
        ordering = ["-at", "-pk"]
        verbose_name = "planned alteration"
        constraints = [
            models.CheckConstraint(
                condition=Q(price_each__isnull=True) | (~Q(currency="") & ~Q(price_source="")),
                name="alteration_price_has_currency_and_source",
            )
        ]

    def __str__(self):
        return self.title

    def get_absolute_url(self):
        return key_address("fleet:alteration", self.pk)

    @property
    def entry(self):
        return ALTERATIONS[self.kind]

    @property
    def in_words(self):
        """The alteration, with the agent if it withdraws one."""
        return f"{self.entry.name} ({self.get_agent_display().lower()})" if self.agent else self.entry.name


class AlterationEffect(models.Model):
    """What an alteration does to one circuit that machines of a plan share; computed, and again on request.

    before, after  digests of the circuit; `after` is empty where the circuit does not allow it, and `refusal` says why,
                   and both are empty where there is no circuit to compute, and `unknown` says why
    hazards        hazard -> [open causes before, after, of these not rare before, after]
    closed, opened rows of the cover table: [hazard, cause in words]
    fitted, removed  kinds of component, each as often as there are components
    """

    plan = models.ForeignKey(AlterationPlan, models.CASCADE, related_name="effects")
    before = models.CharField(max_length=64)
    after = models.CharField(max_length=64, blank=True)
    title = models.CharField(max_length=200)
    hazards = models.JSONField(default=dict)
    closed = models.JSONField(default=list)
    opened = models.JSONField(default=list)
    fitted = models.JSONField(default=list)
    removed = models.JSONField(default=list)
    refusal = models.TextField(blank=True)
    unknown = models.TextField(blank=True)
    computed_at = models.DateTimeField()

    objects = AlterationEffectQuerySet.as_manager()

    class Meta:
        ordering = ["title", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["plan", "before", "after"], condition=~Q(before=""), name="alteration_effect_once"
            )
        ]

    def __str__(self):
        return self.title


class AlterationOfMachine(models.Model):
    """One machine of a planned alteration, until it is carried out or left out with a reason.

    `effect` is computed. `change` is what carrying it out did to the circuit; none where no circuit is recorded.
    """

    class State(models.TextChoices):
        PLANNED = "planned", "Planned"
        DONE = "carried out", "Carried out"
        LEFT_OUT = "left out", "Left out"

    plan = models.ForeignKey(AlterationPlan, models.PROTECT, related_name="machines")
    machine = models.ForeignKey(Machine, models.PROTECT, related_name="alterations")
    state = models.CharField(max_length=12, choices=State, default=State.PLANNED, editable=False)
    reason = models.CharField("why it was left out", max_length=300, blank=True)
    done_on = models.DateField("carried out on", null=True, blank=True)
    evidence = models.CharField(max_length=300, blank=True)
    minutes = models.PositiveSmallIntegerField("minutes of work", null=True, blank=True)
    cost = amount("cost", null=True, blank=True)
    currency = models.CharField(max_length=3, blank=True, choices=currency_choices)
    settled_by = models.ForeignKey(Person, models.PROTECT, null=True, blank=True, related_name="+")
    settled_at = models.DateTimeField(null=True, blank=True)
    change = models.ForeignKey(CircuitChange, models.PROTECT, null=True, blank=True, related_name="alterations")
    effect = models.ForeignKey(AlterationEffect, models.SET_NULL, null=True, blank=True, related_name="machines")

    objects = AlterationOfMachineQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        verbose_name = "machine of an alteration"
        verbose_name_plural = "machines of alterations"
        constraints = [
            models.UniqueConstraint(fields=["plan", "machine"], name="alteration_once_per_machine"),
            models.CheckConstraint(
                condition=Q(state="planned", settled_at__isnull=True)
                | Q(state="left out", settled_at__isnull=False) & ~Q(reason="")
                | Q(state="carried out", settled_at__isnull=False, done_on__isnull=False) & ~Q(evidence=""),
                name="alteration_settled_in_full",
            ),
            models.CheckConstraint(
                condition=Q(cost__isnull=True) | ~Q(currency=""), name="alteration_cost_has_currency"
            ),
        ]

    def __str__(self):
        return f"{self.plan}: machine {self.machine}"

    def get_absolute_url(self):
        return key_address("fleet:alteration_of_machine", self.pk)

    @property
    def is_planned(self):
        return self.state == self.State.PLANNED
