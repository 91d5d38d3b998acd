"""Enter prices and costs, withdraw wrong ones, and choose the currency of a site."""

from decimal import Decimal

from django.db import transaction

from fleet.catalogue.currencies import CURRENCY_DIGITS, in_smallest_units
from fleet.changes import record_created, recording
from fleet.errors import MoneyRefused
from fleet.models import CostRate, MachinePurchase, ServiceContract, Site, SiteCurrency, SparePartCost

AMOUNTS = ("price", "yearly_cost", "hour_cost", "cost")
OF_SITES = (
    (MachinePurchase, "machine__area__site"),
    (SparePartCost, "machine__area__site"),
    (ServiceContract, "machine__area__site"),
    (ServiceContract, "site"),
    (CostRate, "site"),
)


@transaction.atomic
def choose_currency(site, currency, *, by, at):
    """Choose the currency of a site. Raise MoneyRefused once amounts of the site are in another one."""
    if currency not in CURRENCY_DIGITS:
        raise MoneyRefused(f"“{currency}” is no currency. Use a code of ISO 4217, such as EUR, INR or USD.")
    Site.objects.select_for_update(no_key=True).get(pk=site.pk)  # so that two choices come one after the other
    held = SiteCurrency.objects.filter(site=site).first()
    if held is None:
        held = SiteCurrency.objects.create(site=site, currency=currency, by=by, at=at)
        record_created([held], by=by, at=at)
        return held
    refuse_amounts_in_another(site, currency)
    with recording(held, by=by, at=at):
        held.currency, held.by, held.at = currency, by, at
        held.save(update_fields=["currency", "by", "at"])
    return held


def refuse_amounts_in_another(site, currency):
    for model, path in OF_SITES:
        row = model.objects.in_force().filter(**{path: site}).exclude(currency=currency).first()
        if row is not None:
            raise MoneyRefused(
                f"{site} reckons in {row.currency}: “{row}” is an amount in it. Withdraw the amounts of the site "
                "first; they are not converted."
            )


@transaction.atomic
def enter_amount(kind, /, *, by, at, source, currency, **fields):
    """Enter an amount; `kind` is one of the models of money. Raise MoneyRefused for one that cannot be."""
    if not source.strip():
        raise MoneyRefused("State where the amount is from, such as the invoice or the quotation, with its date.")
    for name in AMOUNTS:
        if fields.get(name) is not None:
            fields[name] = checked_amount(fields[name], currency)
    row = kind.objects.create(**fields, currency=currency, source=source.strip(), by=by, at=at)
    record_created([row], by=by, at=at)
    return row


@transaction.atomic
def enter_purchases(purchases, *, source, by, at):
    """Enter the purchases of several machines, all or none; each a mapping of machine, currency, bought_on, price.

    Raise MoneyRefused for an amount that cannot be.
    """
    if not source.strip():
        raise MoneyRefused("State where the figures are from, such as the ledger of assets, with its date.")
    rows = []
    for each in purchases:
        price = None if each["price"] is None else checked_amount(each["price"], each["currency"])
        rows.append(MachinePurchase(**{**each, "price": price}, source=source.strip(), by=by, at=at))
    rows = MachinePurchase.objects.bulk_create(rows, batch_size=500)
    record_created(rows, by=by, at=at)
    return rows


def checked_amount(amount, currency):
    """Return the amount as a Decimal. Raise MoneyRefused for a negative one, or one finer than the currency."""
    amount = Decimal(amount)
    if amount < 0:
        raise MoneyRefused(f"An amount cannot be negative: {amount} {currency}. Enter 0 or more.")
    try:
        in_smallest_units(amount, currency)
    except ValueError as error:
        raise MoneyRefused(f"{error}.") from None
    return amount


@transaction.atomic
def withdraw_amount(row, *, reason, by, at):
    """Withdraw an amount that was entered wrongly: it counts no longer. Raise MoneyRefused if it was already."""
    if not reason.strip():
        raise MoneyRefused(f"State why “{row}” is withdrawn.")
    with recording(row, by=by, at=at):
        rows = type(row).objects.in_force().filter(pk=row.pk)
        if not rows.update(withdrawn_by=by, withdrawn_at=at, withdrawn_reason=reason.strip()[:300]):
            raise MoneyRefused(f"“{row}” was withdrawn already.")
