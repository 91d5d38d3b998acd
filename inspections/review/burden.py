"""Maintenance burden of a machine: what it costs in attention, part by part, each with its evidence.

It ranks machines and never decides a result. Weights are policy, kept in burden.toml.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from types import MappingProxyType

from fleet.catalogue import Source
from fleet.catalogue.loading import Entry, by_code, read_tables
from fleet.place_format import current, day_text, fixed
from inspections.review.machine_evidence import Event, MachineFacts

BURDEN_YEARS = 2  # how far back events count
DAYS_PER_YEAR = 365.25
SHORTEST_RECORD_YEARS = 0.25  # a rate from a shorter record would be chance


@dataclass(frozen=True, slots=True)
class BurdenPart:
    """One part of the score as burden.toml has it."""

    code: str
    name: str
    unit: str
    does: str
    full_at: float
    weight: float
    source: Source


@dataclass(frozen=True, slots=True)
class PartScore:
    """One part of one machine's score: amount in the part's unit (None = not known), share 0 to 1, and why."""

    part: BurdenPart
    amount: float | None
    share: float
    evidence: str
    events: tuple[Event, ...] = ()


@dataclass(frozen=True, slots=True)
class Burden:
    """The parts of a machine's burden; the score depends on the weights, so it is a method."""

    parts: tuple[PartScore, ...]

    def score(self, weights: Mapping[str, float] | None = None) -> float:
        """Return 0 to 100 for weights by part code (default: those of burden.toml). Raises ValueError."""
        weights = DEFAULT_WEIGHTS if weights is None else weights
        return sum(100 * part.share * weight for part, weight in self._weighted(weights))

    def _weighted(self, weights):
        missing = [part.part.code for part in self.parts if part.part.code not in weights]
        total = sum(weights.values())
        if missing or min(weights.values(), default=0) < 0 or not total > 0:
            raise ValueError(
                f"burden weights need {', '.join(PARTS)}, none negative and not all 0; got {dict(weights)}"
            )
        return [(part, weights[part.part.code] / total) for part in self.parts]


def burden_of(facts: MachineFacts) -> Burden:
    """Return the burden of a machine on the day of its facts, all parts in the order of burden.toml."""
    return Burden(tuple(SCORERS[part.code](part, facts) for part in PARTS.values()))


def window_start(on: date) -> date:
    """Return the first day that counts for a review on that day."""
    return on - timedelta(days=round(BURDEN_YEARS * DAYS_PER_YEAR) - 1)


def years_watched(facts: MachineFacts) -> float | None:
    """Return how many years of the window have a record; None when too short for a rate."""
    if facts.watched_from is None:
        return None
    first = max(facts.watched_from, window_start(facts.on))
    years = ((facts.on - first).days + 1) / DAYS_PER_YEAR
    return years if years >= SHORTEST_RECORD_YEARS else None


def rate_score(part: BurdenPart, facts: MachineFacts, count: float, what: str, events=()) -> PartScore:
    """Return the score of something that happened `count` times (or hours) in the watched part of the window."""
    years = years_watched(facts)
    if years is None:
        return PartScore(
            part, None, 0.0, f"The record is too short for a yearly rate ({what}); counted as zero.", events
        )
    rate = count / years
    evidence = f"{what} in {fixed(years, 1)} years: {fixed(rate, 1)} {part.unit}."
    return PartScore(part, rate, min(1.0, rate / part.full_at), evidence, events)


def events_score(part: BurdenPart, facts: MachineFacts, events: tuple[Event, ...], noun: str) -> PartScore:
    """Return the score of dated events; those before the window or after the day are left out."""
    counted = tuple(event for event in events if window_start(facts.on) <= event.on <= facts.on)
    what = f"{len(counted)} {noun}{'' if len(counted) == 1 else 's'}"
    return rate_score(part, facts, len(counted), what, counted)


def findings_score(part: BurdenPart, facts: MachineFacts) -> PartScore:
    return events_score(part, facts, facts.findings, "finding")


def failed_results_score(part: BurdenPart, facts: MachineFacts) -> PartScore:
    return events_score(part, facts, facts.failed_results, "failed result")


def hours_down_score(part: BurdenPart, facts: MachineFacts) -> PartScore:
    if facts.hours_down is None:
        return PartScore(part, None, 0.0, "Hours withdrawn from use are not recorded; counted as zero.")
    return rate_score(part, facts, facts.hours_down, f"{facts.hours_down:.0f} hours withdrawn from use")


def upkeep_score(part: BurdenPart, facts: MachineFacts) -> PartScore:
    """Return 1 where parts or service have ended, falling to 0 at `full_at` years ahead; one half when not known."""
    available = facts.upkeep.on(facts.on)
    note = f" {facts.upkeep.note}" if facts.upkeep.note else ""
    if available is None:
        return PartScore(
            part, None, 0.5, f"Not known whether spare parts and service are available; counted as half.{note}"
        )
    if not available:
        return PartScore(part, 0.0, 1.0, f"Approved spare parts or qualified service are no longer available.{note}")
    if facts.upkeep.until is None:
        return PartScore(part, None, 0.0, f"Spare parts and service are available, no end announced.{note}")
    years = (facts.upkeep.until - facts.on).days / DAYS_PER_YEAR
    until = day_text(facts.upkeep.until, current().day)
    evidence = f"Spare parts and service end on {until}, in {fixed(years, 1)} years.{note}"
    return PartScore(part, years, max(0.0, 1 - years / part.full_at), evidence)


def age_score(part: BurdenPart, facts: MachineFacts) -> PartScore:
    if facts.built_year is None:
        return PartScore(part, None, 0.0, "Year of build not known; counted as zero.")
    age = max(0, facts.on.year - facts.built_year)
    return PartScore(part, age, min(1.0, age / part.full_at), f"Built in {facts.built_year}: {age} years.")


SCORERS: Mapping[str, Callable[[BurdenPart, MachineFacts], PartScore]] = MappingProxyType(
    {
        "findings": findings_score,
        "failed-outcomes": failed_results_score,
        "hours-down": hours_down_score,
        "upkeep": upkeep_score,
        "age": age_score,
    }
)
KEYS = ("code", "name", "unit", "does", "full_at", "weight", "source", "edition", "basis")


def part_from(entry: Entry) -> BurdenPart:
    """Return the part that a TOML table describes. Raises CatalogueError."""
    entry.check_keys(KEYS)
    if entry.text("code") not in SCORERS:
        raise entry.refuse(f"code is {entry.text('code')!r}; accepted: {', '.join(SCORERS)}.")
    return BurdenPart(
        code=entry.text("code"),
        name=entry.text("name"),
        unit=entry.text("unit"),
        does=entry.text("does"),
        full_at=entry.number_in("full_at", 0.1, 100_000),
        weight=entry.number_in("weight", 0, 100),
        source=entry.source(),
    )


PARTS: Mapping[str, BurdenPart] = by_code(read_tables("inspections.review", "burden.toml", "part"), part_from)
DEFAULT_WEIGHTS: Mapping[str, float] = MappingProxyType({part.code: part.weight for part in PARTS.values()})
