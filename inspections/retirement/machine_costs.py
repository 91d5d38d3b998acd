"""What a machine costs in a year: hours of work, spare parts, service contract. What is not known is said, never 0."""

from bisect import bisect_right
from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import ROUND_HALF_UP, Decimal

from django.db.models import Q

from fleet.catalogue.currencies import smallest_unit
from fleet.models import CostRate, MachinePurchase, ReplacementPrice, ServiceContract, SiteCurrency, SparePartCost
from fleet.place_format import counted, fixed, money_text
from inspections.models import Finding, Inspection
from inspections.review.burden import DAYS_PER_YEAR, window_start

HOUR = Decimal(60)


@dataclass(frozen=True, slots=True)
class CostLine:
    """One kind of cost over the window: amount in the currency of the site (None: not known), how it came about."""

    title: str
    amount: Decimal | None
    words: str


@dataclass(frozen=True, slots=True)
class MachineCosts:
    """The costs of a machine from `first` to `last`, over `days`. `currency` is empty where none is chosen."""

    currency: str
    first: date
    last: date
    lines: tuple[CostLine, ...]

    @property
    def days(self):
        return (self.last - self.first).days + 1

    @property
    def missing(self):
        return [line.title.lower() for line in self.lines if line.amount is None]

    @property
    def known(self):
        return sum((line.amount for line in self.lines if line.amount is not None), Decimal(0))

    @property
    def yearly(self):
        """The cost of a year, to the whole unit; None where anything is not known or the record is short."""
        if not self.currency or self.missing or self.days < DAYS_PER_YEAR / 4:
            return None
        return (self.known * Decimal(str(DAYS_PER_YEAR)) / self.days).quantize(Decimal(1), ROUND_HALF_UP)


def costs_of(machines, on) -> dict[int, MachineCosts]:
    """Map machines, a list with their places, to what they cost in the two years up to a day; six queries."""
    gathered = _Gathered(machines, on)
    return {machine.pk: gathered.costs(machine) for machine in machines}


class _Gathered:
    def __init__(self, machines, on):
        ids, first = [machine.pk for machine in machines], window_start(on)
        sites, models = {m.area.site_id for m in machines}, {m.model_id for m in machines}
        self.on, self.first = on, first
        self.currencies = dict(SiteCurrency.objects.filter(site__in=sites).values_list("site", "currency"))
        self.rates = defaultdict(list)
        for row in CostRate.objects.on(on).filter(site__in=sites):
            self.rates[row.site_id].append(row)
        bought = SparePartCost.objects.in_force().filter(machine__in=ids, bought_on__range=(first, on))
        self.parts = _by_machine(bought.values_list("machine", "cost", "currency"))
        closed = Finding.objects.closed().filter(machine__in=ids, closed_at__date__range=(first, on)).order_by()
        self.work = _by_machine(closed.values_list("machine", "closed_at__date", "work_hours"))
        signed = Inspection.objects.signed().filter(machine__in=ids, signed_at__date__range=(first, on)).order_by()
        self.minutes = _by_machine(signed.values_list("machine", "signed_at__date", "minutes"))
        reached = Q(machine__in=ids) | Q(model__in=models, site__in=sites)
        contracts = ServiceContract.objects.in_force().filter(reached, from_date__lte=on)
        self.contracts = list(contracts.exclude(until_date__lt=first))

    def costs(self, machine):
        currency = self.currencies.get(machine.area.site_id, "")
        first = min(max(self.first, machine.in_use_from), self.on)
        if not currency:
            return MachineCosts("", first, self.on, ())
        lines = (
            self._hours(machine, currency, "Work on findings", self.work[machine.pk], Decimal(1), "closed finding"),
            self._hours(machine, currency, "Inspections", self.minutes[machine.pk], 1 / HOUR, "signed inspection"),
            self._spare_parts(machine, currency),
            self._contract(machine, currency, first),
        )
        return MachineCosts(currency, first, self.on, lines)

    def _hours(self, machine, currency, title, rows, hours_in_one, noun):
        untold = sum(amount is None for _, amount in rows)
        if untold:
            return CostLine(
                title, None, f"{counted(untold)} of {counted(len(rows))} {noun}s do not say how long they took."
            )
        total, hours = Decimal(0), Decimal(0)
        for day, amount in rows:
            rate = self._rate_on(machine, day)
            if rate is None or rate.currency != currency:
                return CostLine(title, None, f"No hourly rate of the site is known for {day}.")
            hours += Decimal(amount) * hours_in_one
            total += Decimal(amount) * hours_in_one * rate.hour_cost
        words = f"{fixed(float(hours), 1)} h for {counted(len(rows))} {noun}{'' if len(rows) == 1 else 's'}"
        return CostLine(title, _to_smallest(total, currency), f"{words}.")

    def _rate_on(self, machine, day):
        rates = self.rates[machine.area.site_id]
        place = bisect_right([rate.from_date for rate in rates], day)
        return rates[place - 1] if place else None

    def _spare_parts(self, machine, currency):
        rows = self.parts[machine.pk]
        if any(other != currency for _, other in rows):
            return CostLine("Spare parts", None, "Some were entered in another currency; amounts are not converted.")
        total = sum((cost for cost, _ in rows), Decimal(0))
        return CostLine("Spare parts", total, f"{counted(len(rows))} entered. What was not entered is not in it.")

    def _contract(self, machine, currency, first):
        own = [c for c in self.contracts if c.machine_id == machine.pk]
        of_model = [c for c in self.contracts if (c.model_id, c.site_id) == (machine.model_id, machine.area.site_id)]
        total, words = Decimal(0), []
        for contract in own or of_model:
            if contract.currency != currency:
                return CostLine("Service contract", None, f"{contract.provider} is in {contract.currency}.")
            days = _overlap(contract, first, self.on)
            total += contract.yearly_cost * days / Decimal(str(DAYS_PER_YEAR))
            words.append(
                f"{contract.provider}: {counted(days)} days of {money_text(contract.yearly_cost, currency)} a year"
            )
        return CostLine("Service contract", _to_smallest(total, currency), f"{'; '.join(words) or 'None is entered'}.")


def _overlap(contract, first, last):
    start, end = max(contract.from_date, first), min(contract.until_date or last, last)
    return max(0, (end - start + timedelta(days=1)).days)


def _to_smallest(amount, currency):
    return amount.quantize(smallest_unit(currency), ROUND_HALF_UP)


def _by_machine(rows):
    found = defaultdict(list)
    for machine, *row in rows:
        found[machine].append(tuple(row))
    return found


def purchase_of(machine):
    """Return the purchase that counts, None if nothing is entered."""
    return MachinePurchase.objects.in_force().filter(machine=machine).select_related("by").first()


def replacement_price_of(model):
    """Return the replacement price that counts for a model, None if none is known."""
    return ReplacementPrice.objects.in_force().filter(model=model).select_related("by").first()
