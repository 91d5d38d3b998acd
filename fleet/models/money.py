"""What machines, their models and the work on them cost. What is not entered is not known, and never counts as zero."""

from django.core.validators import MinValueValidator
from django.db import models
from django.db.models import Q

from fleet.catalogue import FEATURES
from fleet.catalogue.currencies import currency_choices
from fleet.models.machines import Machine, MachineModel
from fleet.models.people import Person
from fleet.models.places import Site
from fleet.models.querysets.money import (
    AlterationPriceQuerySet,
    ContractQuerySet,
    MachineMoneyQuerySet,
    ModelMoneyQuerySet,
    SiteMoneyQuerySet,
)

NOT_NEGATIVE = [MinValueValidator(0)]


def feature_choices():
    return [(feature.code, feature.name) for feature in FEATURES.values()]


def amount(name, **options):
    """A column for an amount of money; no currency has more than three digits after the point."""
    return models.DecimalField(name, max_digits=15, decimal_places=3, validators=NOT_NEGATIVE, **options)


class MoneyRow(models.Model):
    """An amount with its currency and where it is from. Rows are added; a wrong one is withdrawn with a reason."""

    currency = models.CharField(max_length=3, choices=currency_choices)
    source = models.CharField(
        max_length=200, help_text="Where the figure is from, such as the invoice or the quotation, with its date."
    )
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    at = models.DateTimeField()
    withdrawn_by = models.ForeignKey(Person, models.PROTECT, null=True, blank=True, related_name="+")
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    withdrawn_reason = models.CharField(max_length=300, blank=True)

    class Meta:
        abstract = True


class SiteCurrency(models.Model):
    """The currency in which a site reckons. One for each site."""

    site = models.OneToOneField(Site, models.CASCADE, related_name="money")
    currency = models.CharField(max_length=3, choices=currency_choices)
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    at = models.DateTimeField()

    objects = SiteMoneyQuerySet.as_manager()

    class Meta:
        ordering = ["site__name"]
        verbose_name_plural = "site currencies"
        permissions = [("view_money", "Can see prices and costs"), ("enter_money", "Can enter prices and costs")]

    def __str__(self):
        return f"{self.site}: {self.currency}"


class MachinePurchase(MoneyRow):
    """When a machine was bought and for how much; either may be not known. The row entered last counts."""

    machine = models.ForeignKey(Machine, models.CASCADE, related_name="purchases")
    bought_on = models.DateField(null=True, blank=True)
    price = amount("price", null=True, blank=True)

    objects = MachineMoneyQuerySet.as_manager()

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(bought_on__isnull=False) | Q(price__isnull=False), name="purchase_says_something"
            ),
            models.CheckConstraint(condition=Q(price__isnull=True) | Q(price__gte=0), name="purchase_not_negative"),
        ]

    def __str__(self):
        return f"{self.machine}, bought {self.bought_on or 'on a day not known'}"


class ReplacementPrice(MoneyRow):
    """What a new machine in place of one of this model costs. The latest day counts."""

    model = models.ForeignKey(MachineModel, models.CASCADE, related_name="replacement_prices")
    price = amount("price of a new machine")
    priced_on = models.DateField("date of the price")

    objects = ModelMoneyQuerySet.as_manager()

    class Meta:
        ordering = ["-priced_on", "-pk"]
        constraints = [models.CheckConstraint(condition=Q(price__gt=0), name="replacement_price_above_zero")]

    def __str__(self):
        return f"{self.model}, {self.priced_on}"


class ServiceContract(MoneyRow):
    """A service contract for one machine, or for every machine of a model at a site."""

    machine = models.ForeignKey(Machine, models.CASCADE, null=True, blank=True, related_name="service_contracts")
    model = models.ForeignKey(MachineModel, models.CASCADE, null=True, blank=True, related_name="service_contracts")
    site = models.ForeignKey(Site, models.CASCADE, null=True, blank=True, related_name="service_contracts")
    provider = models.CharField(max_length=100)
    yearly_cost = amount("cost for each machine and year")
    from_date = models.DateField("first day")
    until_date = models.DateField("last day", null=True, blank=True)

    objects = ContractQuerySet.as_manager()

    class Meta:
        ordering = ["-from_date", "-pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(machine__isnull=False, model__isnull=True, site__isnull=True)
                | Q(machine__isnull=True, model__isnull=False, site__isnull=False),
                name="contract_of_machine_or_model",
            ),
            models.CheckConstraint(condition=Q(yearly_cost__gte=0), name="contract_not_negative"),
            models.CheckConstraint(
                condition=Q(until_date__isnull=True) | Q(until_date__gte=models.F("from_date")),
                name="contract_in_order",
            ),
        ]

    def __str__(self):
        return f"{self.provider}, {self.machine or self.model}"


class CostRate(MoneyRow):
    """What an hour of a technician costs at a site, from a day on."""

    site = models.ForeignKey(Site, models.CASCADE, related_name="cost_rates")
    hour_cost = amount("cost of one hour of work")
    from_date = models.DateField("from")

    objects = SiteMoneyQuerySet.as_manager()

    class Meta:
        ordering = ["-from_date", "-pk"]
        constraints = [models.CheckConstraint(condition=Q(hour_cost__gt=0), name="cost_rate_above_zero")]

    def __str__(self):
        return f"{self.site} from {self.from_date}"


class SparePartCost(MoneyRow):
    """What spare parts for a machine cost on a day."""

    machine = models.ForeignKey(Machine, models.CASCADE, related_name="spare_part_costs")
    what = models.CharField("what was bought", max_length=200)
    cost = amount("cost")
    bought_on = models.DateField()

    objects = MachineMoneyQuerySet.as_manager()

    class Meta:
        ordering = ["-bought_on", "-pk"]
        constraints = [models.CheckConstraint(condition=Q(cost__gte=0), name="spare_part_cost_not_negative")]

    def __str__(self):
        return f"{self.machine}: {self.what}"


class AlterationPrice(MoneyRow):
    """What it costs to fit a safety feature (or take an unwanted one off) on a machine of a model, or of any model."""

    feature = models.SlugField("safety feature", max_length=40, choices=feature_choices, db_index=False)
    model = models.ForeignKey(MachineModel, models.CASCADE, null=True, blank=True, related_name="alteration_prices")
    price = amount("price for each machine")
    minutes = models.PositiveSmallIntegerField(
        "minutes of work on each machine", help_text="Of the department's own technicians, with the test afterwards."
    )
    priced_on = models.DateField("date of the price")

    objects = AlterationPriceQuerySet.as_manager()

    class Meta:
        ordering = ["feature", "-priced_on", "-pk"]
        constraints = [models.CheckConstraint(condition=Q(price__gte=0), name="alteration_price_not_negative")]

    def __str__(self):
        return f"{self.feature} on {self.model or 'any model'}"
