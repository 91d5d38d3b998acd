"""Whether the records bear an interval: what may be pooled, the bound, and what would reverse it. Plain Python.

Times are in years. A failure that nobody coded counts as a hidden one, since leaving it out would only lower the bound.
"""

import tomllib
from dataclasses import dataclass, replace
from math import expm1, isfinite
from pathlib import Path

from fleet.late import stats
from inspections.planning.hidden_rate import hidden_rate_bounds, hidden_rate_upper_bound
from inspections.planning.rates import Bounds, Gap, share_of_time_failed

FILE = Path(__file__).with_name("interval_policy.toml")
FEW_YEARS = 50.0  # machine years below which a model alone is few; common practice, no source
WORSE_THAN_FAMILY = 0.10  # chance below which a model is held to fail more often; common practice, no source
MOST_REVERSING = 60  # failures that are tried before it is said that more would be needed


@dataclass(frozen=True, slots=True)
class Policy:
    """What a class of procedures may leave open; see the head of interval_policy.toml."""

    code: str
    title: str
    meaning: str
    most_share: float
    confidence: float
    source: str


POLICIES = {one["code"]: Policy(**one) for one in tomllib.loads(FILE.read_text(encoding="utf-8"))["policy"]}


@dataclass(frozen=True, slots=True)
class Observed:
    """What the inspections of some machines showed.

    words   which machines, such as "Norrfell Three"
    gaps    between complete inspections; uncoded failures are among the failed ones
    uncoded  how many of those are not coded
    """

    words: str
    gaps: tuple[Gap, ...]
    uncoded: int = 0

    @property
    def years(self) -> float:
        return sum(gap.years * gap.number for gap in self.gaps)

    @property
    def number(self) -> int:
        return sum(gap.number for gap in self.gaps)

    @property
    def failed(self) -> int:
        return sum(gap.number for gap in self.gaps if gap.failed)

    def joined(self, other: "Observed", words: str) -> "Observed":
        return Observed(words, self.gaps + other.gaps, self.uncoded + other.uncoded)


@dataclass(frozen=True, slots=True)
class Pool:
    """The observations that a bound rests on, and why these."""

    observed: Observed
    reason: str
    is_pooled: bool


@dataclass(frozen=True, slots=True)
class Bound:
    """What an interval would leave open.

    rate         of hidden failures with its two-sided interval;  rate_upper, its one-sided upper bound
    share        mean share of the time that a hidden failure stands, at the most likely rate
    share_upper  the same at the upper bound: this must keep the policy
    at_the_end   chance at the upper bound that one stands just before the next inspection
    """

    years_between: float
    rate: Bounds
    rate_upper: float
    share: float
    share_upper: float
    at_the_end: float

    def keeps(self, most_share: float) -> bool:
        return self.share_upper <= most_share


def choose_pool(own: Observed, family: Observed | None) -> Pool:
    """Return the observations to use: the model's own, or with its family where they are few and it is not worse.

    family  what the other models of the family showed; None or without a gap where there is none

    It is held to be worse where that many of all failures fall to its share of the machine years with a chance below
    WORSE_THAN_FAMILY (binomial, given the total: the usual comparison of two Poisson rates, from memory).
    """
    if own.years >= FEW_YEARS:
        return Pool(own, f"{own.years:.0f} machine years of its own are enough to stand alone.", False)
    if family is None or not family.number:
        return Pool(own, f"Few data, {own.years:.1f} machine years, and no family to pool with.", False)
    if chance_as_bad(own, family) < WORSE_THAN_FAMILY:
        words = f"Few data, {own.years:.1f} machine years, and not pooled: it fails more often than {family.words}."
        return Pool(own, words, False)
    joined = own.joined(family, f"{own.words} with {family.words}")
    return Pool(joined, f"Few data of its own, {own.years:.1f} machine years, so pooled with {family.words}.", True)


def chance_as_bad(own: Observed, family: Observed) -> float:
    """Return the chance that a model as good as its family has as many of all failures as it had, 0 to 1."""
    total, years = own.failed + family.failed, own.years + family.years
    return float(stats.binom.sf(own.failed - 1, total, own.years / years)) if total and years else 1.0


def bound_of(observed: Observed, years_between: float, confidence: float) -> Bound:
    """Return what an interval would leave open; shares are 1 where nothing bounds the rate. Raises ValueError."""
    rate = hidden_rate_bounds(observed.gaps, confidence)
    upper = hidden_rate_upper_bound(observed.gaps, confidence)
    return Bound(
        years_between, rate, upper, _share(rate.value, years_between), _share(upper, years_between),
        -expm1(-upper * years_between) if isfinite(upper) else 1.0,
    )  # fmt: skip


def failures_that_reverse(observed: Observed, years_between: float, confidence: float, most_share: float) -> int | None:
    """Return how many more inspections that find a hidden failure would break the policy; None beyond MOST_REVERSING.

    Each is taken to come after a gap of the interval. 0 where the policy is broken already.
    """
    for number in range(MOST_REVERSING + 1):
        more = (Gap(years_between, True, number),) if number else ()
        tried = replace(observed, gaps=observed.gaps + more)
        if not bound_of(tried, years_between, confidence).keeps(most_share):
            return number
    return None


def _share(rate, years):
    return share_of_time_failed(rate, years) if isfinite(rate) else 1.0
