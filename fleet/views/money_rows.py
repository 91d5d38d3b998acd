"""One amount as a line of a list: of what, how much, when, and on what it is based."""

from dataclasses import dataclass

from fleet.catalogue import FEATURES
from fleet.days import long_date
from fleet.models import (
    AlterationPrice,
    CostRate,
    MachinePurchase,
    ReplacementPrice,
    ServiceContract,
    SiteCurrency,
    SparePartCost,
)
from fleet.place_format import money_text


@dataclass(frozen=True, slots=True)
class AmountLine:
    """`of` and `url` of the machine, model or site; the amount in words; `when` and `note` beside it."""

    row: object
    of: str
    url: str
    amount: str
    when: str
    note: str = ""

    @property
    def can_be_withdrawn(self):
        return not isinstance(self.row, SiteCurrency)


def amount_line(row):
    return LINES[type(row)](row)


def _currency(row):
    return AmountLine(row, str(row.site), "", row.currency, f"chosen {long_date(row.at.date())}")


def _purchase(row):
    price = "price not known" if row.price is None else money_text(row.price, row.currency)
    when = long_date(row.bought_on) if row.bought_on else "day not known"
    return AmountLine(row, str(row.machine), row.machine.get_absolute_url(), price, when, str(row.machine.model))


def _replacement(row):
    amount = money_text(row.price, row.currency)
    return AmountLine(row, str(row.model), row.model.get_absolute_url(), amount, long_date(row.priced_on))


def _contract(row):
    of = str(row.machine) if row.machine else f"{row.model} at {row.site}"
    url = (row.machine or row.model).get_absolute_url()
    until = f"until {long_date(row.until_date)}" if row.until_date else "no end agreed"
    when = f"from {long_date(row.from_date)}, {until}"
    return AmountLine(row, of, url, f"{money_text(row.yearly_cost, row.currency)} a year", when, row.provider)


def _rate(row):
    amount = f"{money_text(row.hour_cost, row.currency)} an hour"
    return AmountLine(row, str(row.site), "", amount, f"from {long_date(row.from_date)}")


def _spare_part(row):
    amount = money_text(row.cost, row.currency)
    return AmountLine(row, str(row.machine), row.machine.get_absolute_url(), amount, long_date(row.bought_on), row.what)


def _alteration(row):
    feature = FEATURES.get(row.feature)
    name = feature.name if feature else row.feature
    verb = "Take off" if feature and feature.is_unwanted else "Fit"
    url = row.model.get_absolute_url() if row.model else ""
    amount = f"{money_text(row.price, row.currency)}, {row.minutes} min"
    return AmountLine(row, str(row.model or "Any model"), url, amount, long_date(row.priced_on), f"{verb}: {name}")


LINES = {
    SiteCurrency: _currency,
    MachinePurchase: _purchase,
    ReplacementPrice: _replacement,
    ServiceContract: _contract,
    CostRate: _rate,
    SparePartCost: _spare_part,
    AlterationPrice: _alteration,
}
