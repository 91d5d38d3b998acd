"""Which planning rule counts for a machine: the most specific one that reaches it. Plain Python."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from enum import StrEnum

from dateutil.relativedelta import relativedelta

COMPARED_FROM = date(2001, 1, 1)  # intervals in months and in days are compared by the day that each leads to


class Reach(StrEnum):
    """What a rule says it is for, the most specific first. Of two rules the one whose reach is written first wins."""

    MACHINE = "machine"
    FEATURE = "feature"
    MODEL = "model"
    AREA = "area"
    SITE = "site"
    ALL = "all"


REACH_WORDS = {
    Reach.MACHINE: "one machine",
    Reach.FEATURE: "machines with a safety feature fitted",
    Reach.MODEL: "one machine model",
    Reach.AREA: "one area",
    Reach.SITE: "one site",
    Reach.ALL: "all machines",
}
PLACE_IN_ORDER = {reach: place for place, reach in enumerate(Reach)}
ORDER_WORDS = (
    "The most specific rule wins: one machine before a safety feature fitted, before the machine model, before the "
    "area, before the site, before all machines. Of two that are equally specific, the one with the newer first day "
    "wins."
)
BINDING = ("manufacturer", "law")  # sources beyond which nobody plans without saying so


@dataclass(frozen=True, slots=True)
class Interval:
    """A number of months, or a number of days; exactly one of the two."""

    months: int | None = None
    days: int | None = None

    def __post_init__(self):
        if (self.months is None) == (self.days is None):
            raise ValueError(f"an interval has months or days, one of the two; got {self.months} and {self.days}")

    def after(self, day: date) -> date:
        """Return the day on which something done on `day` is due again."""
        return day + (relativedelta(months=self.months) if self.months else relativedelta(days=self.days))

    def is_longer_than(self, other: "Interval") -> bool:
        return self.after(COMPARED_FROM) > other.after(COMPARED_FROM)

    def __str__(self):
        number, unit = (self.months, "month") if self.months else (self.days, "day")
        return f"every {unit}" if number == 1 else f"every {number} {unit}s"


@dataclass(frozen=True, slots=True)
class Rule:
    """One rule for one procedure.

    target  key of the machine, model, area or site, or code of the safety feature; None for all machines
    interval, window_days  None where the rule says that the procedure is not planned
    source  "manufacturer", "law", "policy" or "evidence"
    skills  what somebody must be confirmed for to be booked and to sign there
    """

    number: int
    reach: Reach
    target: int | str | None
    from_date: date
    interval: Interval | None = None
    window_days: int | None = None
    source: str = "policy"
    skills: tuple[str, ...] = ()

    @property
    def is_planned(self) -> bool:
        return self.interval is not None

    @property
    def rank(self) -> tuple:
        """Sorts rules, the one that wins first."""
        return (PLACE_IN_ORDER[self.reach], -self.from_date.toordinal(), -self.number)


@dataclass(frozen=True, slots=True)
class Traits:
    """What rules can ask about a machine; `features` are the codes of the safety features that are fitted."""

    machine: int
    model: int
    area: int
    site: int
    features: frozenset[str] = frozenset()

    def targets(self):
        """Yield each reach with what a rule of it must name to reach this machine."""
        yield from ((Reach.FEATURE, code) for code in self.features)
        yield Reach.MACHINE, self.machine
        yield Reach.MODEL, self.model
        yield Reach.AREA, self.area
        yield Reach.SITE, self.site
        yield Reach.ALL, None


@dataclass(frozen=True, slots=True)
class Rhythm:
    """How often a procedure is planned on a machine, and which rule says so.

    rule  the one that won; None where the interval is that of the procedure itself
    lost  the other rules that reach the machine, in the order in which they would win
    """

    interval: Interval | None
    window_days: int
    rule: Rule | None = None
    lost: tuple[Rule, ...] = ()

    @property
    def is_planned(self) -> bool:
        return self.interval is not None

    @property
    def timing(self) -> tuple:
        """What decides about dates; two rhythms with one timing plan alike."""
        return (self.interval, self.window_days if self.is_planned else None)

    @property
    def goes_beyond(self) -> tuple[Rule, ...]:
        """The rules by law or by the manufacturer's instructions that lost, although they ask for more."""
        return tuple(
            one for one in self.lost
            if one.source in BINDING and one.is_planned
            and (self.interval is None or self.interval.is_longer_than(one.interval))
        )  # fmt: skip

    def not_before(self, day: date) -> date:
        """Return the day, or the first day of the rule where that is later: no rule makes work due before itself."""
        return max(day, self.rule.from_date) if self.rule else day


@dataclass
class RuleTable:
    """The rules in force for one procedure, with the interval and window that the procedure itself has."""

    own_interval: Interval | None
    own_window_days: int
    rules: Iterable[Rule] = ()
    by_target: Mapping = field(init=False)

    def __post_init__(self):
        self.by_target = defaultdict(list)
        for rule in self.rules:
            self.by_target[rule.reach, rule.target].append(rule)

    @property
    def features(self) -> set[str]:
        """The codes of the safety features that its rules ask about."""
        return {target for reach, target in self.by_target if reach == Reach.FEATURE}

    @property
    def plans_anywhere(self) -> bool:
        """Whether any machine could be planned by it."""
        return self.own_interval is not None or any(
            one.is_planned for found in self.by_target.values() for one in found
        )

    def rhythm(self, traits: Traits) -> Rhythm:
        """Return how often the procedure is planned on a machine with these traits."""
        reaching = [one for target in traits.targets() for one in self.by_target.get(target, ())]
        if not reaching:
            return Rhythm(self.own_interval, self.own_window_days)
        winner, *lost = sorted(reaching, key=lambda one: one.rank)
        window = self.own_window_days if winner.window_days is None else winner.window_days
        return Rhythm(winner.interval, window, winner, tuple(lost))
