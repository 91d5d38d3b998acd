"""Amounts of money of every kind, and how each action on them is run in tests/test_changes.py."""

from datetime import date, timedelta
from decimal import Decimal

import fleet.actions as actions
from fleet.models import (
    AlterationPrice,
    CostRate,
    MachinePurchase,
    ReplacementPrice,
    ServiceContract,
    SparePartCost,
)
from tests.factories import NOON, make_machine, make_model, make_person, make_site

DAY = date(2026, 1, 15)
LATER = NOON + timedelta(days=1)


def enter(kind, person=None, /, **fields):
    """Enter an amount with whatever the test is not about."""
    defaults = {"currency": "EUR", "source": "Quotation of January", "at": NOON}
    fields.setdefault("by", person or make_person("manager"))
    return actions.enter_amount(kind, **{**defaults, **fields})


def make_money_rows(machine, person, mark):
    """A row of each kind for a machine, by the code of the kind; prices of models, of no site, bear no mark."""
    actions.choose_currency(machine.site, "EUR", by=person, at=NOON)
    held, of_model = {"by": person, "source": f"{mark} invoice"}, {"by": person, "model": machine.model}
    return {
        "purchases": enter(MachinePurchase, machine=machine, bought_on=DAY, price=Decimal("31500.50"), **held),
        "replacements": enter(ReplacementPrice, price=Decimal(48000), priced_on=DAY, **of_model),
        "contracts": enter(
            ServiceContract, machine=machine, provider=f"{mark} works", yearly_cost=Decimal(1200), from_date=DAY, **held
        ),
        "rates": enter(CostRate, site=machine.site, hour_cost=Decimal(62), from_date=DAY, **held),
        "spare-parts": enter(
            SparePartCost, machine=machine, what=f"{mark} hose", cost=Decimal("41.20"), bought_on=DAY, **held
        ),
        "alterations": enter(
            AlterationPrice, feature="o2-analyser", price=Decimal(900), minutes=90, priced_on=DAY, **of_model
        ),
    }


def _price(by):
    return enter(ReplacementPrice, by, model=make_model(), price=Decimal(48000), priced_on=DAY)


MONEY_RUNS = {
    "choose_currency": (
        lambda by: make_site(),
        lambda site, by: actions.choose_currency(site, "EUR", by=by, at=LATER),
    ),
    "enter_purchases": (
        lambda by: make_machine(),
        lambda machine, by: actions.enter_purchases(
            [{"machine": machine, "currency": "EUR", "bought_on": DAY, "price": Decimal(9)}],
            source="Ledger",
            by=by,
            at=LATER,
        ),
    ),
    "enter_amount": (
        lambda by: make_model(),
        lambda model, by: enter(ReplacementPrice, by, model=model, price=Decimal(48000), priced_on=DAY, at=LATER),
    ),
    "withdraw_amount": (_price, lambda row, by: actions.withdraw_amount(row, reason="Too old", by=by, at=LATER)),
}
