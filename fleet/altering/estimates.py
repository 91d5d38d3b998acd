"""What a planned alteration will take: minutes, money by currency, components; and what of it is not known."""

from collections import Counter
from dataclasses import dataclass, field
from decimal import Decimal

from fleet.catalogue import COMPONENT_KINDS
from fleet.models import AlterationPrice, SiteCurrency
from fleet.models.querysets.alterations import PLANNED


@dataclass
class Estimate:
    """For the machines still planned whose circuit does not refuse the alteration.

    money     currency -> sum
    unpriced  machines without a price in the currency of their site
    untimed   machines without minutes
    """

    machines: int = 0
    minutes: int = 0
    money: dict = field(default_factory=dict)
    unpriced: int = 0
    untimed: int = 0


class Prices:
    """What the alteration of a plan costs on a machine: the price entered for its model, else the plan's own."""

    def __init__(self, plan, day):
        self.plan = plan
        self.currencies = dict(SiteCurrency.objects.values_list("site", "currency"))
        self.entered = {}
        if plan.entry.feature:
            for row in AlterationPrice.objects.on(day).filter(feature=plan.entry.feature):
                self.entered[row.model_id, row.currency] = (row.price, row.minutes)

    def of(self, model, site):
        """Return (price, currency, minutes) for a machine of a model at a site; None for what is not known."""
        currency = self.currencies.get(site, "")
        found = self.entered.get((model, currency)) or self.entered.get((None, currency))
        if found:
            return found[0], currency, found[1]
        own = self.plan.price_each if self.plan.currency == currency and currency else None
        return own, currency if own is not None else "", self.plan.minutes_each


def estimate(plan, rows, prices):
    """Return the Estimate of the rows (a queryset of AlterationOfMachine) of a plan; one query."""
    found = Estimate()
    for model, site, state, refusal, number in rows.by_model_and_site():
        if state != PLANNED or refusal:
            continue
        price, currency, minutes = prices.of(model, site)
        found.machines += number
        found.minutes += number * (minutes or 0)
        found.untimed += number if minutes is None else 0
        if price is None:
            found.unpriced += number
        else:
            found.money[currency] = found.money.get(currency, Decimal(0)) + number * price
    return found


def components_needed(effects):
    """Return (name, number) of the components to fit on the planned machines; `effects` have their `planned` number."""
    counts = Counter()
    for effect in effects:
        for kind in effect.fitted:
            counts[kind] += effect.planned
    return [(COMPONENT_KINDS[kind].name, number) for kind, number in sorted(counts.items()) if number]
