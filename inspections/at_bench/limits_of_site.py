"""The published limits that judge at a site, each with its confirmation, as the limits page lists them."""

from collections import defaultdict
from dataclasses import dataclass
from hashlib import sha256

from inspections.at_bench.limits_here import confirmation_key
from inspections.bench import TESTS, Limit, ResultSpec, Test
from inspections.bench.rules import MADE_FROM_READINGS, RULES, Rule, rules_that_apply
from inspections.models import LimitConfirmation, ProcedureVersion


@dataclass(frozen=True, slots=True)
class LimitAtSite:
    """One limit that judges at a site; `confirmation` is the one in force, None where nobody confirmed it.

    code  identifies the limit in an address: it changes with the limit
    """

    test: Test
    spec: ResultSpec
    limit: Limit
    is_made: bool
    confirmation: LimitConfirmation | None

    @property
    def rule(self) -> Rule | None:
        """Whose rule it is; None for a limit that a procedure states itself."""
        return RULES.get(self.limit.rule)

    @property
    def code(self):
        return sha256(repr(confirmation_key(self.test.code, self.limit)).encode()).hexdigest()[:16]


def limits_of_site(site):
    """Return every limit with a figure that judges at a site by its set of rules, for machines of any year of build.

    Two queries, whatever is listed.
    """
    return limits_of_sites([site])[site.pk]


def limits_of_sites(sites):
    """Return the same for each of some sites, by key. Two queries, for any number of sites."""
    known = defaultdict(dict)
    for one in LimitConfirmation.objects.in_force().filter(site__in=sites).with_people():
        known[one.site_id][one.key] = one
    own = _limits_of_procedures()
    return {site.pk: _limits_at(site, own, known[site.pk]) for site in sites}


def _limits_at(site, own, known):
    found = []
    for test in TESTS.values():
        offered = [*own.get(test.code, ()), *test.default_limits]
        for spec in test.results:
            for limit, is_made in _judging(test, spec, offered, site.rule_set):
                key = confirmation_key(test.code, limit)
                found.append(LimitAtSite(test, spec, limit, is_made, known.get(key)))
    return found


def find_limit_of_site(site, code):
    """Return the limit with this code, None once the site or the procedures have another in its place."""
    return next((one for one in limits_of_site(site) if one.code == code), None)


def _judging(test, spec, offered, rule_set):
    made = MADE_FROM_READINGS.get((test.code, spec.key))
    if made:
        limit = _made_from_readings(spec, RULES[made])
        yield from ((limit, True) for limit in rules_that_apply([limit], spec.key, rule_set=rule_set))
    limits = [limit for limit in offered if limit.unit != "yes/no"]
    for limit in rules_that_apply(limits, spec.key, rule_set=rule_set):
        yield limit, False


def _made_from_readings(spec, rule):
    """A limit that stands for all that a test makes by one rule; its figures are those of no reading."""
    title = f"By {rule.body}; the figure follows from what was read or chosen"
    return Limit(spec.key, rule.code, title, None, 0.0, spec.unit, rule.edition, rule.edition, rule.basis)


def _limits_of_procedures():
    """By test: the limits that the current versions of the procedures state themselves."""
    found = {}
    for version in ProcedureVersion.objects.newest().order_by("procedure__code"):
        for step in version.content["step"]:
            for limit in step.get("limits", ()):
                if limit["rule"] not in RULES:
                    found.setdefault(step["test"], {})[repr(sorted(limit.items()))] = Limit(**limit)
    return {code: list(limits.values()) for code, limits in found.items()}
