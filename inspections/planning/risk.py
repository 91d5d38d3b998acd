"""Risk score of a machine and the inspection interval that follows from it.

Classic equipment-management (EM) score of 1989, repeated in the WHO maintenance programme overview (2011), from memory;
the function table was read in halved form (South African health technology guide) and doubles to the classic one.
Published intervals are starting points: local rules and the manufacturer's instructions come first.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import IntEnum
from types import MappingProxyType

SOURCE = "Medical equipment maintenance programme overview, WHO, 2011, ISBN 978 92 4 150153 8 (tables from memory)"
INCLUDED_FROM = 12  # EM at and above this is inspected on a plan; same source, from memory


class Function(IntEnum):
    """What the equipment is for: 2 to 10 points. WHO 2011, from memory; half of each value was read."""

    LIFE_SUPPORT = 10
    SURGERY_OR_INTENSIVE_CARE = 9
    THERAPY = 8
    SURGERY_OR_INTENSIVE_CARE_MONITORING = 7
    OTHER_MONITORING_OR_DIAGNOSTIC = 6
    ANALYTICAL_LABORATORY = 5
    LABORATORY_ACCESSORY = 4
    COMPUTER = 3
    OTHER = 2


class PhysicalRisk(IntEnum):
    """The worst that a failure does: 1 to 5 points. WHO 2011, from memory."""

    DEATH = 5
    INJURY = 4
    WRONG_THERAPY = 3
    EQUIPMENT_DAMAGE = 2
    NONE_SIGNIFICANT = 1


class Maintenance(IntEnum):
    """How much maintenance it asks for: 1 to 5 points. WHO 2011, from memory."""

    EXTENSIVE = 5
    ABOVE_AVERAGE = 4
    AVERAGE = 3
    BELOW_AVERAGE = 2
    MINIMAL = 1


HALF_SCALE_FUNCTION: Mapping[Function, float] = MappingProxyType(
    {  # South African IUSS health technology guide, seen
        Function.LIFE_SUPPORT: 5,
        Function.SURGERY_OR_INTENSIVE_CARE: 4.5,
        Function.THERAPY: 4,
        Function.SURGERY_OR_INTENSIVE_CARE_MONITORING: 3.5,
        Function.OTHER_MONITORING_OR_DIAGNOSTIC: 3,
        Function.ANALYTICAL_LABORATORY: 2.5,
        Function.LABORATORY_ACCESSORY: 2,
        Function.COMPUTER: 1.5,
        Function.OTHER: 1,
    }
)


@dataclass(frozen=True, slots=True)
class RiskScore:
    """The four parts of an EM score, 2 to 22 points together."""

    function: Function
    physical_risk: PhysicalRisk
    maintenance: Maintenance
    history: int  # -2 to 2, from history_points

    @property
    def em(self) -> int:
        return int(self.function + self.physical_risk + self.maintenance + self.history)

    @property
    def is_included(self) -> bool:
        return self.em >= INCLUDED_FROM


@dataclass(frozen=True, slots=True)
class IntervalRule:
    """One reason for an interval, in whole months, as a sentence."""

    months: int
    reason: str


@dataclass(frozen=True, slots=True)
class Interval:
    """The shortest interval of all rules that apply; None when the score leaves the machine out of the plan."""

    months: int | None
    rules: tuple[IntervalRule, ...]

    @property
    def reason(self) -> str:
        """The rule that decided, as a sentence."""
        if self.months is None:
            return f"The score is below {INCLUDED_FROM}: no planned inspection follows from it."
        return next(rule.reason for rule in self.rules if rule.months == self.months)


def history_points(incidents: int, months_observed: float) -> int:
    """Return -2 to 2 points for how often the equipment failed.

    incidents        failures and accidents in the time observed, >= 0
    months_observed  > 0; a machine watched for less than 30 months without incident is credited only with
                     what the time proves (6 clean months are not "fewer than one in 30 months")
    Raises ValueError. Source: WHO 2011, from memory: +2 more than one in 6 months, +1 one per 6 to 9, 0 one per
    9 to 18, -1 one per 18 to 30, -2 fewer than one in 30 months. A rate on a boundary counts as the milder class.
    """
    if incidents < 0 or not months_observed > 0:
        raise ValueError(
            f"history needs incidents >= 0 and a time above 0 months, got {incidents} in {months_observed} months"
        )
    if incidents == 0:
        return min(0, points_for_spacing(months_observed))
    return points_for_spacing(months_observed / incidents)


def points_for_spacing(months_between: float) -> int:
    """Return the points for one incident every `months_between` months, > 0. Source: see history_points."""
    for bound, points in ((6, 2), (9, 1), (18, 0)):
        if months_between < bound:
            return points
    return -1 if months_between <= 30 else -2


def interval_for(score: RiskScore) -> Interval:
    """Return the inspection interval of a score with every rule that applied.

    Source: WHO 2011, from memory: maintenance 4 or 5 every 6 months, 1 to 3 every 12; EM 15 or more at least every
    6 months; EM 19 or 20 every 4 months (applied to all scores from 19 on, as 21 and 22 cannot ask for less).
    """
    if not score.is_included:
        return Interval(None, ())
    rules = [maintenance_rule(score)]
    if score.em >= 15:
        rules.append(IntervalRule(6, f"The score {score.em} is 15 or more: at least every 6 months."))
    if score.em >= 19:
        rules.append(IntervalRule(4, f"The score {score.em} is 19 or more: every 4 months."))
    return Interval(shortest(rules).months, tuple(rules))


def maintenance_rule(score: RiskScore) -> IntervalRule:
    """Return the interval that the maintenance points alone ask for. Source: see interval_for."""
    months = 6 if score.maintenance >= Maintenance.ABOVE_AVERAGE else 12
    return IntervalRule(months, f"Maintenance scores {int(score.maintenance)} of 5: every {months} months.")


def shortest(rules: Sequence[IntervalRule]) -> IntervalRule:
    """Return the rule with the shortest interval; the first of equals. Raises ValueError when there is none."""
    if not rules:
        raise ValueError("no interval rule was given; at least one must apply")
    return min(rules, key=lambda rule: rule.months)


@dataclass(frozen=True, slots=True)
class AdjustedRating:
    """Rating that takes use into account. Source: journal paper of 2000, from memory.

    mission, risk, maintenance  points >= 0 on one scale; use_rate  share of the time in use, 0 to 1
    """

    mission: float
    risk: float
    maintenance: float
    use_rate: float

    def __post_init__(self):
        if not 0 <= self.use_rate <= 1:
            raise ValueError(f"use_rate is {self.use_rate:g}; give the share of time in use, 0 to 1")
        if min(self.mission, self.risk, self.maintenance) < 0:
            raise ValueError(f"mission, risk and maintenance must be 0 or more, got {self!r}")

    @property
    def plain(self) -> float:
        """Mission + 2 risk + 2 maintenance, as if in use all the time."""
        return self.mission + 2 * self.risk + 2 * self.maintenance

    @property
    def adjusted(self) -> float:
        """(Mission + 2 risk) x use rate + 2 maintenance."""
        return (self.mission + 2 * self.risk) * self.use_rate + 2 * self.maintenance
