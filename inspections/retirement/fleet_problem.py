"""What a choice for the fleet is computed from, gathered from the records in a fixed number of queries."""

from collections import Counter
from dataclasses import dataclass, field, replace
from decimal import Decimal

from django.db.models import Count, Q

from fleet.catalogue import FEATURES
from fleet.catalogue.currencies import in_smallest_units
from fleet.documents.phrases import lower_first
from fleet.models import AlterationPrice, Area, Machine, MachineStatus, ReplacementPrice, SiteCurrency
from inspections.planning.fleet_choice import (
    TURNS_A_YEAR,
    AreaLimit,
    Candidate,
    Demands,
    Problem,
    Year,
    options_of,
)
from inspections.retirement.closing_needs import closers_by_machine, needs_of
from inspections.retirement.gathering import rank_machines
from inspections.retirement.weights import default_words

POINTS = 10  # in one of severity weight, so that a weight with one digit after the point is a whole number
YEARS = 3
MOST_SITES = 50  # whose weights the result names


@dataclass(frozen=True, slots=True)
class Asked:
    """What a person asked for; what JSON holds, so that the job and the stored row keep it.

    yearly        money for each year, as decimal text
    hours         of technicians for alterations in a year; None: no limit
    technicians   among whom the hours are shared; `fewer` of them are not there in the what-if
    """

    title: str
    currency: str
    yearly: str
    site: int | None = None
    machines: int | None = None
    hours: int | None = None
    technicians: int = 1
    turns: int = TURNS_A_YEAR
    carries_over: bool = False
    may_retire: bool = False
    replace: int | None = None
    alter: int | None = None
    retire: list[str] = field(default_factory=list)
    fewer: int = 0

    @property
    def has_what_if(self):
        return bool(self.retire or self.fewer or self.replace is not None or self.alter is not None)

    def minutes(self, *, fewer=0):
        if self.hours is None:
            return None
        return self.hours * 60 * max(0, self.technicians - fewer) // self.technicians


@dataclass(frozen=True, slots=True)
class Gathered:
    """The problem as asked, the same with its what-if (None: none was asked), and what goes with them.

    about    asset number -> rank, model, area and site, conclusion
    unknown  (words, number of machines) for what is not known or left out
    weights  which weights were in force, one sentence for each site
    """

    problem: Problem
    what_if: Problem | None
    about: dict
    unknown: list
    weights: list


def gather(person, asked: Asked, today) -> Gathered:
    """Return what the choice rests on today, for the machines that the person may see."""
    here = Machine.objects.visible_to(person).not_retired()
    here = here.filter(area__site=asked.site) if asked.site else here
    scope = here.filter(area__site__money__currency=asked.currency)
    ranked = rank_machines(scope, today)
    prices = _Prices(asked.currency, today)
    closers = closers_by_machine(scope.order_by().values("pk"), today)
    made = _Candidates(prices, closers, may_retire=asked.may_retire)
    candidates = tuple(made.candidate(each) for each in ranked)
    problem = Problem(candidates, _years(asked), _areas(ranked), asked.turns, asked.carries_over)
    return Gathered(
        problem,
        _what_if(problem, asked),
        {each.machine.asset_number: _about(each) for each in ranked},
        [*_left_out(here, asked), *_unknown(ranked), *made.without_price()],
        [
            *sorted({each.weighed.site.pk: each.weighed.in_words for each in ranked}.values())[:MOST_SITES],
            default_words(),
        ],
    )


def _weights(ranked):
    """Which weights were in force at each site, and last what the default ones are."""
    words = sorted({each.weighed.site.pk: each.weighed.in_words for each in ranked}.values())
    return [*words[:MOST_SITES], default_words()]


def _years(asked, *, fewer=0):
    budget = in_smallest_units(Decimal(asked.yearly), asked.currency)
    return (Year(budget, asked.machines, asked.minutes(fewer=fewer)),) * YEARS


def _what_if(problem, asked):
    if not asked.has_what_if:
        return None
    known = {machine.name for machine in problem.machines}
    demands = Demands(asked.replace, asked.alter, frozenset(asked.retire) & known)
    return replace(problem, years=_years(asked, fewer=asked.fewer), demands=demands)


def _areas(ranked):
    """The limits of the areas of the machines, by key as text; one query."""
    in_service = Count("machines", filter=Q(machines__status=MachineStatus.IN_SERVICE, machines__staged=""))
    keys = {each.machine.area_id for each in ranked}
    rows = Area.objects.filter(pk__in=keys).order_by().annotate(number=in_service)
    return {str(area.pk): AreaLimit(area.number, area.minimum_machines) for area in rows}


def _about(each):
    machine, conclusion = each.machine, str(each.review.conclusion)
    return [each.place.place, str(machine.model), f"{machine.area.name}, {machine.site.name}", conclusion]


class _Prices:
    """Prices of one currency on a day: the latest of each counts, one for a model before one for any model."""

    def __init__(self, currency, today):
        self.currency = currency
        replacements = ReplacementPrice.objects.on(today).filter(currency=currency)
        self.replacements = {row.model_id: self._units(row.price) for row in replacements}
        alterations = AlterationPrice.objects.on(today).filter(currency=currency)
        self.alterations = {(row.feature, row.model_id): (self._units(row.price), row.minutes) for row in alterations}

    def _units(self, amount):
        return in_smallest_units(amount, self.currency)

    def of_features(self, features, model):
        found = {code: self.alterations.get((code, model), self.alterations.get((code, None))) for code in features}
        return {code: price for code, price in found.items() if price is not None}


class _Candidates:
    """Makes candidates; machines that are alike share their options."""

    def __init__(self, prices, closers, *, may_retire):
        self.prices, self.closers, self.may_retire = prices, closers, may_retire
        self.made, self.no_alteration, self.no_replacement = {}, Counter(), Counter()

    def candidate(self, each):
        machine, weights = each.machine, each.weighed.weights.hazards
        needs = needs_of(each.review, self.closers.get(machine.pk, {}))
        points = {hazard: round(weights[hazard] * POINTS) for hazard in needs}
        features = {feature for sets in needs.values() for need in sets for feature in need}
        priced = self.prices.of_features(features, machine.model_id)
        self.no_alteration.update(features - priced.keys())
        if points and machine.model_id not in self.prices.replacements:
            self.no_replacement[str(machine.model)] += 1
        key = (machine.model_id, tuple(points.items()), tuple(needs.items()))
        if key not in self.made:
            new = self.prices.replacements.get(machine.model_id)
            self.made[key] = options_of(points, needs, priced, replacement=new, may_retire=self.may_retire)
        return Candidate(machine.asset_number, str(machine.area_id), sum(points.values()), self.made[key])

    def without_price(self):
        models = [
            (f"No price of a replacement is known for {model}: its machines are not replaced in any plan.", number)
            for model, number in sorted(self.no_replacement.items())
        ]
        features = [
            (f"No price of an alteration is known for {lower_first(FEATURES[code].name)}: it is in no plan.", number)
            for code, number in sorted(self.no_alteration.items())
        ]
        return models + features


def _left_out(here, asked):
    others = SiteCurrency.objects.exclude(currency=asked.currency)
    words = (
        ("Machines of sites that reckon in another currency are left out.", here.filter(area__site__money__in=others)),
        ("Machines of sites without a currency are left out.", here.filter(area__site__money__isnull=True)),
    )
    return [(said, number) for said, rows in words if (number := rows.count())]


def _unknown(ranked):
    reviews = [each.review for each in ranked]
    counted = (
        ("The gas circuit has not been computed: only the criteria show what is open.",
         sum(each.facts.circuit is None for each in reviews)),
        ("An absolute criterion is not known; what it would leave open is not counted.",
         sum(bool(each.open_questions) for each in reviews)),
    )  # fmt: skip
    return [(words, number) for words, number in counted if number]
