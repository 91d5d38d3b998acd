"""The limits that judge the results of one machine: its model's, its site's, else the rules of the site's set.

Each limit says whether somebody confirmed it for the site. A limit set for the model or the site with its edition is
confirmed by whoever set it.
"""

from dataclasses import replace

from fleet.catalogue.rule_sets import rule_set_in_words
from fleet.models.querysets.prepared_queries import prepared
from inspections import bench
from inspections.at_bench.step_content import test_of
from inspections.bench import Limit, to_si
from inspections.bench.challenges import Reason
from inspections.bench.limits import NOT_CONFIRMED
from inspections.bench.rules import MADE_FROM_READINGS, RULES, belongs_to, rules_that_apply
from inspections.models import LimitConfirmation, LimitOverride

NO_EDITION = " -–—."


class LimitsHere:
    """The limits of a machine on a day; overrides and confirmations are read once."""

    def __init__(self, machine, on):
        self.machine, self.site = machine, machine.site
        self.rule_set = self.site.rule_set
        self.overrides = _overrides(on, machine.model_id, self.site.pk)
        self.confirmations = {one.key: one.words for one in _confirmations(self.site.pk)}

    @property
    def digest(self):
        """What the limits rest on besides those that `judges` returns: for limits that a test makes from readings."""
        return repr((self.rule_set, sorted(self.confirmations.items())))

    def judges(self, step):
        """By result key: every limit that judges the results of a step, each with its confirmation.

        The model's limit, else the site's, else the procedure's own, else the published rules of the site's set.
        """
        offered = [Limit(**limit) for limit in step.content.get("limits", [])]
        chosen = {}
        for spec in test_of(step).results:
            set_here = self._set_here(step, spec, offered)
            limits = [set_here] if set_here else self._published(step, spec, offered)
            if limits:
                chosen[spec.key] = tuple(self.with_confirmation(limit, step.test_code) for limit in limits)
        return chosen

    def within_set(self, evaluation, step):
        """Return the evaluation without the judgement of rules outside the site's set, which nobody chose here.

        A test falls back on its own limits, and makes some of them from readings: those too are of somebody's rules.
        """
        judges = self.judges(step)
        results = tuple(self._within_set(result, step, judges) for result in evaluation.results)
        remarks = tuple(words for words in evaluation.remarks if not self._names_outside(words, step))
        return replace(evaluation, results=results, remarks=(*remarks, *self._on_the_set(results, step)))

    def _within_set(self, result, step, judges):
        limit = result.limit
        if limit is None or limit in judges.get(result.key, ()):
            return result
        if belongs_to(limit, self.rule_set):
            return replace(result, limit=self.with_confirmation(limit, step.test_code))
        why = f"Not judged: no rule of this site's set ({rule_set_in_words(self.rule_set)}) is about it."
        remark = f"{result.remark} {why}".strip()
        convention = test_of(step).result_spec(result.key).convention
        unjudged = {"limit": None, "decision": None, "margin_si": None, "probability": None,
                    "reason": Reason.REPORTED.value, "why": "", "sufficient_uncertainty_si": None}  # fmt: skip
        return replace(result, **unjudged, convention=convention, remark=remark)

    def _names_outside(self, words, step):
        if not self.rule_set:
            return False
        outside = [one for one in test_of(step).default_limits if not belongs_to(one, self.rule_set)]
        return any(one.title in words for one in outside)

    def _on_the_set(self, results, step):
        """Sentences on the choice of rules that the page of a step shows."""
        judged = [result for result in results if result.limit and result.limit.rule in RULES]
        if not self.rule_set and any(result.unit != "yes/no" for result in judged):
            yield f"{self.site} has not chosen its set of rules: the strictest of all published sets was applied."
        for key, rule in step.content.get("rules", {}).items():
            named = RULES.get(rule)
            if named and self.rule_set and not named.is_in(self.rule_set):
                yield f"The procedure names a rule for {key.replace('_', ' ')} that is not of this site's set."

    def _published(self, step, spec, offered):
        return rules_that_apply(
            offered, spec.key, rule_set=self.rule_set, built_year=self.machine.built_year,
            named=step.content.get("rules", {}).get(spec.key),
        )  # fmt: skip

    def _set_here(self, step, spec, offered):
        matching = [o for o in self.overrides if (o.test_code, o.result_key) == (step.test_code, spec.key)]
        matching.sort(key=lambda o: (o.machine_model_id is None, -o.from_date.toordinal(), -o.pk))
        return override_limit(matching[0], spec, offered, site=self.site) if matching else None

    def with_confirmation(self, limit, test_code):
        """Return the limit with who confirmed it for this site; a yes or no has no figure that needs it."""
        if limit.unit == "yes/no" or limit.confirmation:
            return limit
        known = self.confirmations.get(confirmation_key(test_code, limit), NOT_CONFIRMED)
        return replace(limit, confirmation=known)


@prepared
def _overrides(day, machine_model, site):
    return LimitOverride.objects.in_force(day).for_machines(machine_model, site).with_target()


@prepared
def _confirmations(site):
    return LimitConfirmation.objects.in_force().filter(site=site).with_people()


def confirmation_key(test_code, limit):
    """What identifies a limit that was confirmed: its result, its rule with edition, and its figures in SI.

    A limit that a test makes from its readings has other figures each time: there only the rule counts.
    """
    if MADE_FROM_READINGS.get((test_code, limit.key)) == limit.rule:
        return (test_code, limit.key, limit.rule, "")
    ends = (f"{end:.9g}" if end is not None else "" for end in (limit.lower_si, limit.upper_si))
    return (test_code, limit.key, limit.rule, limit.edition, *ends)


def override_limit(override, spec, offered, *, site):
    """Turn an override into the Limit that the bench applies; its reason and source go on the record."""
    reason = f"{override.reason} ({override.machine_model or override.site}, from {override.from_date})"
    confirmation = _confirmation_of(override, site)
    if override.rule:
        named = bench.choose_limit(offered, spec.key, rule=override.rule)
        return replace(named, note=reason, confirmation=confirmation)
    return Limit(
        key=spec.key,
        rule="model" if override.machine_model_id else "site",
        title=f"Limit set for {override.machine_model or override.site}",
        lower_si=None if override.lower is None else to_si(override.lower, override.unit),
        upper_si=None if override.upper is None else to_si(override.upper, override.unit),
        unit=override.unit,
        source=override.source,
        edition=override.edition,
        basis="local",
        note=reason,
        confirmation=confirmation,
    )


def _confirmation_of(override, site):
    """Who set a limit by which edition; empty without either, so that it still waits for a confirmation."""
    if not override.by or not override.edition.strip(NO_EDITION):
        return ""
    return f"{override.edition}, set by {override.by} on {site.date_of(override.at).isoformat()}"
