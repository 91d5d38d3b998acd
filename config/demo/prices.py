"""Currencies, hourly rates, prices and one service contract of the demonstration, from prices.toml. All invented."""

import tomllib
from decimal import Decimal
from pathlib import Path

from fleet.actions import choose_currency, enter_amount
from fleet.models import AlterationPrice, CostRate, MachineModel, ReplacementPrice, ServiceContract, Site

PRICES = Path(__file__).parent / "prices.toml"


def enter_prices(*, by, at):
    """Enter every price, as known at a moment."""
    prices, day = tomllib.loads(PRICES.read_text(encoding="utf-8")), at.date()
    held = {"currency": prices["currency"], "source": prices["source"], "by": by, "at": at}
    models = {model.code: model for model in MachineModel.objects.all()}
    sites = {site.code: site for site in Site.objects.all()}
    for site in sites.values():
        choose_currency(site, prices["currency"], by=by, at=at)
        enter_amount(CostRate, site=site, hour_cost=Decimal(prices["hour"]), from_date=day, **held)
    for code, price in prices["replacements"].items():
        enter_amount(ReplacementPrice, model=models[code], price=Decimal(price), priced_on=day, **held)
    for code, (price, minutes) in prices["alterations"].items():
        enter_amount(AlterationPrice, feature=code, price=Decimal(price), minutes=minutes, priced_on=day, **held)
    contract = dict(prices["contract"])
    model, site = models[contract.pop("model")], sites[contract.pop("site")]
    cost = Decimal(contract.pop("yearly_cost"))
    enter_amount(ServiceContract, model=model, site=site, yearly_cost=cost, from_date=day, **contract, **held)
