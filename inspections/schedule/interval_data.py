"""What the records say about an interval: observations, bound, hours and the rules that bind it."""

from collections import Counter
from dataclasses import dataclass
from datetime import date
from functools import reduce

from dateutil.relativedelta import relativedelta

from fleet.models import Machine, MachineModel
from fleet.place_format import NEUTRAL, using
from inspections.models import PlanningRule, Procedure
from inspections.planning.interval_evidence import (
    Observed,
    Policy,
    bound_of,
    choose_pool,
    failures_that_reverse,
)
from inspections.planning.rule_choice import BINDING, PLACE_IN_ORDER, Interval, Reach
from inspections.schedule.evidence_policies import policies_in_force
from inspections.schedule.expected_minutes import expected_minutes
from inspections.schedule.hidden_failures import DAYS_OF_YEAR, HIDDEN, UNCODED, counted_gaps, gaps_of
from inspections.schedule.rhythms import tables_in_force, traits_of_all

DATA_YEARS = 5  # of records that a dossier looks at unless another first day is chosen; common practice, no source
DIGITS = 6


@dataclass(frozen=True, slots=True)
class Asked:
    """An interval that is looked at: a procedure on a machine model (None: on every one), and the days of the data."""

    procedure: Procedure
    machine_model: MachineModel | None
    interval_months: int
    window_days: int
    data_from: date
    as_of: date

    @property
    def years_between(self):
        """Years between two inspections at the most: the interval, and the days after it that are still on time."""
        return self.interval_months / 12 + self.window_days / DAYS_OF_YEAR

    @property
    def reach(self):
        return Reach.MODEL if self.machine_model else Reach.ALL


def first_day_of_data(as_of):
    return as_of - relativedelta(years=DATA_YEARS)


def policy_of(procedure, on) -> Policy:
    """Return the policy of a procedure: essential where its version in force has an essential step. Two queries."""
    version = procedure.current_version(on)
    steps = version.content["step"] if version else ()
    return policies_in_force()["essential" if any(step.get("essential") for step in steps) else "other"]


def observations(procedure, first, last):
    """Return what each model's machines showed, by key of the model. Two queries."""
    machines = Machine.objects.all()
    found = counted_gaps(machines.order_by(), first, last, by=("procedure", "machine__model"), procedure=procedure)
    models = MachineModel.objects.in_bulk([model for _, model in found])
    return {model: (models[model], observed(str(models[model]), counted)) for (_, model), counted in found.items()}


def observed(words, counted: Counter):
    """Return counted gaps as observations; failures that nobody coded count as hidden."""
    uncoded = sum(number for (_, showed), number in counted.items() if showed == UNCODED)
    return Observed(words, tuple(sorted(gaps_of(counted, (HIDDEN, UNCODED)), key=_order)), uncoded)


def _order(gap):
    return (gap.years, gap.failed)


def pool_for(asked, by_model):
    """Return the observations on which the bound for a model rests: its own, or with those of its manufacturer."""
    if asked.machine_model is None:
        every = [one for _, one in by_model.values()]
        words = "every machine model"
        return choose_pool(reduce(lambda a, b: a.joined(b, words), every, Observed(words, ())), None)
    own = by_model.get(asked.machine_model.pk, (None, Observed(str(asked.machine_model), ())))[1]
    words = f"the other models of {asked.machine_model.manufacturer}"
    family = [
        one for model, one in by_model.values()
        if model.pk != asked.machine_model.pk and model.manufacturer == asked.machine_model.manufacturer
    ]  # fmt: skip
    return choose_pool(own, reduce(lambda a, b: a.joined(b, words), family, Observed(words, ())))


@using(NEUTRAL)
def evidence_of(asked: Asked, policy: Policy, most_share, today):
    """Return what a dossier freezes, fit for JSON. Raises ValueError where no inspection followed another one."""
    pool = pool_for(asked, observations(asked.procedure, asked.data_from, asked.as_of))
    if not pool.observed.number:
        raise ValueError("no complete inspection followed another one in this time")
    bound = bound_of(pool.observed, asked.years_between, policy.confidence)
    return {
        "procedure": asked.procedure.code,
        "machines": str(asked.machine_model) if asked.machine_model else "every machine model",
        "data": {"from": asked.data_from.isoformat(), "to": asked.as_of.isoformat()},
        "pool": {"words": pool.observed.words, "reason": pool.reason, "pooled": pool.is_pooled},
        "observed": {
            "gaps": pool.observed.number, "machine_years": _round(pool.observed.years),
            "failed": pool.observed.failed, "uncoded": pool.observed.uncoded,
            "each": [[_round(gap.years), gap.failed, gap.number] for gap in pool.observed.gaps],
        },
        "bound": {
            "years_between": _round(asked.years_between), "rate": _round(bound.rate.value),
            "rate_lower": _round(bound.rate.lower), "rate_upper": _round(bound.rate_upper),
            "share": _round(bound.share), "share_upper": _round(bound.share_upper),
            "at_the_end": _round(bound.at_the_end), "keeps": bound.keeps(most_share),
        },
        "policy": {"code": policy.code, "most_share": most_share, "confidence": policy.confidence,
                   "source": policy.source},
        "hours": hours_of(asked, today),
        "reverse": failures_that_reverse(pool.observed, asked.years_between, policy.confidence, most_share),
    }  # fmt: skip


def bound_now(dossier, today):
    """Return the Bound of a dossier's interval with the records up to `today`; None without a gap."""
    first = today - (dossier.as_of - dossier.data_from)  # as long a time as the dossier looked at, up to today
    asked = Asked(
        dossier.procedure, dossier.machine_model, dossier.interval_months, dossier.window_days, first, today
    )  # fmt: skip
    pool = pool_for(asked, observations(dossier.procedure, first, today))
    return bound_of(pool.observed, asked.years_between, dossier.confidence) if pool.observed.number else None


def hours_of(asked, today):
    """Return how many machines would follow the interval, and the hours a year now and then. Five queries at most."""
    table = tables_in_force([asked.procedure], today)[asked.procedure.pk]
    now, number, longer = Counter(), Counter(), 0
    new = Interval(months=asked.interval_months)
    for traits in _reached(asked, table, today):
        rhythm = table.rhythm(traits)
        number[traits.model] += 1
        if rhythm.is_planned:
            now[traits.model] += DAYS_OF_YEAR / days_of(rhythm.interval)
            longer += new.is_longer_than(rhythm.interval)
    pairs = {(asked.procedure.pk, model) for model in number}
    known = {model: one.value for (_, model), one in expected_minutes(pairs, on=today).items() if one.value}
    per_year = DAYS_OF_YEAR / days_of(new)
    before = sum(now[model] * minutes / 60 for model, minutes in known.items())
    after = sum(number[model] * per_year * minutes / 60 for model, minutes in known.items())
    return {
        "machines": sum(number.values()), "longer_on": longer, "now": _round(before), "then": _round(after),
        "freed": _round(before - after),
        "without_minutes": sum(number[model] for model in number if model not in known),
    }  # fmt: skip


def binding_rules(asked, today):
    """Return the rules by law or manufacturer that forbid the interval, as rows of PlanningRule.

    Those that would lose against it although they ask for more, and one for the very same machines, which it would end.
    """
    table = tables_in_force([asked.procedure], today)[asked.procedure.pk]
    new, found = Interval(months=asked.interval_months), set()
    target = asked.machine_model.pk if asked.machine_model else None
    for traits in traits_of_all(table.features, today).values():
        if asked.machine_model and traits.model != asked.machine_model.pk:
            continue
        rhythm = table.rhythm(traits)
        for rule in filter(None, (rhythm.rule, *rhythm.lost)):
            is_same = (rule.reach, rule.target) == (asked.reach, target)
            loses = PLACE_IN_ORDER[rule.reach] >= PLACE_IN_ORDER[asked.reach]
            asks_for_more = rule.is_planned and new.is_longer_than(rule.interval)
            if rule.source in BINDING and (is_same or (loses and asks_for_more)):
                found.add(rule.number)
    return list(PlanningRule.objects.with_scope().filter(pk__in=found))


def days_of(interval: Interval):
    return interval.days or interval.months * DAYS_OF_YEAR / 12


def _reached(asked, table, today):
    """Yield the traits of the machines on which a rule of this scope would win."""
    for traits in traits_of_all(table.features, today).values():
        if asked.machine_model and traits.model != asked.machine_model.pk:
            continue
        rule = table.rhythm(traits).rule
        if rule is None or PLACE_IN_ORDER[rule.reach] >= PLACE_IN_ORDER[asked.reach]:
            yield traits


def _round(value):
    """Six decimals; None for what nothing bounds."""
    return round(value, DIGITS) if value != float("inf") else None
