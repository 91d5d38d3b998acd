"""How many of the published limits that the procedures use were looked at for a site, confirmed or left as proposed."""

from collections import defaultdict
from dataclasses import dataclass

from inspections.at_bench.limits_of_site import limits_of_site, limits_of_sites
from inspections.models import LimitLeft, ProcedureVersion


@dataclass(frozen=True, slots=True)
class LookedAt:
    """Counts of the limits in use at a site."""

    confirmed: int
    left: int
    total: int

    @property
    def number(self):
        return self.confirmed + self.left


def tests_in_use():
    """Return the codes of the tests in the current versions of the procedures. One query."""
    steps = (step for version in ProcedureVersion.objects.newest() for step in version.content["step"])
    return {step["test"] for step in steps if "test" in step}


def not_looked_at(site):
    """Return the limits in use at a site that nobody confirmed or left as proposed. Four queries."""
    used = tests_in_use()
    left = set(LimitLeft.objects.in_force().filter(site=site).values_list("code", flat=True))
    rows = (one for one in limits_of_site(site) if one.test.code in used)
    return [one for one in rows if one.confirmation is None and one.code not in left]


def looked_at_of_sites(sites):
    """Return the LookedAt of each of some sites, by key. Four queries, for any number of sites."""
    used, left = tests_in_use(), defaultdict(set)
    for site, code in LimitLeft.objects.in_force().filter(site__in=sites).values_list("site", "code"):
        left[site].add(code)
    found = {}
    for pk, limits in limits_of_sites(sites).items():
        rows = [one for one in limits if one.test.code in used]
        confirmed = sum(one.confirmation is not None for one in rows)
        found[pk] = LookedAt(
            confirmed, sum(one.confirmation is None and one.code in left[pk] for one in rows), len(rows)
        )
    return found
