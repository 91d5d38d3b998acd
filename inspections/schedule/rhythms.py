"""How often procedures are planned on machines: the rules in force, read for many machines at once."""

from collections import defaultdict

from fleet.models import FeatureState, Machine, State
from inspections.models import PlanningRule
from inspections.planning.rule_choice import Interval, RuleTable, Traits


def rule_tables(procedures, rows):
    """Return a RuleTable for each of some procedures, by key; `rows` are PlanningRules. One query."""
    rules = defaultdict(list)
    for row in rows.filter(procedure__in=[one.pk for one in procedures]):
        rules[row.procedure_id].append(row.as_rule)
    return {one.pk: RuleTable(own_interval(one), one.window_days, rules[one.pk]) for one in procedures}


def tables_in_force(procedures, on):
    """Return the RuleTable of each procedure on the date `on`, by key. One query."""
    return rule_tables(procedures, PlanningRule.objects.in_force(on))


def own_interval(procedure):
    """The interval that the procedure itself has; None for one that is done only when needed."""
    return Interval(months=procedure.interval_months) if procedure.interval_months else None


def traits_of(machines, features, on):
    """Return the Traits of machines by key; `features` are the codes that rules ask about.

    machines  rows of Machine with model and area__site at hand

    One query where features are asked about, else none.
    """
    fitted = fitted_features({machine.pk for machine in machines}, features, on)
    return {
        one.pk: Traits(one.pk, one.model_id, one.area_id, one.area.site_id, frozenset(fitted[one.pk]))
        for one in machines
    }


def traits_of_all(features, on):
    """Return the Traits of every machine that is not retired, by key. Two queries at most."""
    rows = Machine.objects.not_retired().order_by().values_list("pk", "model", "area", "area__site")
    fitted = fitted_features(None, features, on)
    return {pk: Traits(pk, model, area, site, frozenset(fitted[pk])) for pk, model, area, site in rows}


def fitted_features(machines, features, on):
    """Return which of some safety features are fitted on a date, by key of the machine; all machines for None."""
    found = defaultdict(set)
    if features:
        states = FeatureState.objects.fitted(sorted(features), on).filter(state=State.FITTED).order_by()
        states = states if machines is None else states.filter(machine__in=machines)
        for machine, feature in states.values_list("machine", "feature"):
            found[machine].add(feature)
    return found


def rhythm_on(machine, procedure, on):
    """Return how often a procedure is planned on one machine on a date. Two queries at most."""
    table = tables_in_force([procedure], on)[procedure.pk]
    return table.rhythm(traits_of([machine], table.features, on)[machine.pk])
