"""Purchases of many machines from a list that is pasted: asset number, day, price, one machine a line."""

import re
from decimal import Decimal

from django import forms

from fleet.catalogue.currencies import in_smallest_units
from fleet.days import day_within, read_day
from fleet.forms.money import MOST, SOURCE
from fleet.models import Machine, SiteCurrency
from fleet.place_format import NumberRefused, current, read_number, read_written_day

MOST_LINES = 5000
PROBLEMS_SHOWN = 20
SPLIT = re.compile(r"\t|;")


class PurchasesForm(forms.Form):
    """`purchases` holds what the lines say once the form is valid; with one wrong line nothing is taken."""

    lines = forms.CharField(
        max_length=400_000,
        widget=forms.Textarea(attrs={"rows": 12}),
        label="One machine a line: asset number; day; price",
        help_text="Parted by semicolons, or by tabs as from a spreadsheet. Leave empty what is not known. "
        "Prices are in the currency of the machine's site.",
    )
    source = forms.CharField(max_length=200, help_text=SOURCE)

    def __init__(self, *args, person, **kwargs):
        super().__init__(*args, **kwargs)
        self.person, self.purchases = person, []

    def clean_lines(self):
        lines = [(n, line) for n, line in enumerate(self.cleaned_data["lines"].splitlines(), start=1) if line.strip()]
        if len(lines) > MOST_LINES:
            raise forms.ValidationError(f"At most {MOST_LINES:,} lines at once; got {len(lines):,}.")
        rows = [(n, [cell.strip() for cell in SPLIT.split(line)]) for n, line in lines]
        machines, currencies = self._machines(rows), dict(SiteCurrency.objects.values_list("site", "currency"))
        problems, seen = [], set()
        for number, cells in rows:
            try:
                self.purchases.append(_purchase(cells, machines, currencies, seen))
            except ValueError as error:
                problems.append(f"Line {number}: {error}")
        if problems:
            more = len(problems) - PROBLEMS_SHOWN
            tail = [f"{more} more lines are wrong."] if more > 0 else []
            raise forms.ValidationError([*problems[:PROBLEMS_SHOWN], *tail])
        return self.cleaned_data["lines"]

    def _machines(self, rows):
        rows = Machine.objects.visible_to(self.person).filter(asset_number__in={cells[0] for _, cells in rows})
        return {machine.asset_number: machine for machine in rows.with_place()}


def _purchase(cells, machines, currencies, seen):
    """Return the purchase that a line says. Raises ValueError with what is accepted."""
    asset, day, price, *rest = [*cells, "", ""]
    if any(rest):
        raise ValueError(f"“{'; '.join(cells)[:80]}” has more than asset number, day and price.")
    machine = machines.get(asset)
    if machine is None:
        raise ValueError(f"“{asset[:40]}” is no machine that you may see. Enter its asset number.")
    if asset in seen:
        raise ValueError(f"{asset} is in the list twice.")
    seen.add(asset)
    currency = currencies.get(machine.area.site_id)
    if currency is None:
        raise ValueError(f"no currency is chosen for {machine.site} yet.")
    if not day and not price:
        raise ValueError(f"{asset} has neither day nor price.")
    return {
        "machine": machine,
        "currency": currency,
        "bought_on": _day(day) if day else None,
        "price": _price(price, currency) if price else None,
    }


def _day(text):
    try:
        return read_day(text)
    except ValueError:
        return day_within(read_written_day(text, current().day))


def _price(text, currency):
    try:
        amount = Decimal(read_number(text, current().decimal))
    except NumberRefused as error:
        raise ValueError(str(error)) from None
    if not 0 <= amount <= MOST:
        raise ValueError(f"a price is 0 or more, not {amount}.")
    in_smallest_units(amount, currency)
    return amount
