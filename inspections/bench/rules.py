"""Whose rule a limit is, which rule sets it belongs to, and which rules judge a machine.

A site chooses one rule set. A rule outside it judges nothing there, unless a limit set on the limits page names it.
Where the set, or the year of build, is not known, every rule that could apply judges, and the worst decision counts.
"""

import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from pathlib import Path
from types import MappingProxyType

from fleet.catalogue.rule_sets import NOT_CHOSEN, RuleSet

from .limits import Limit

FILE = Path(__file__).with_name("rules.toml")
PUBLISHED_SETS = (RuleSet.INTERNATIONAL, RuleSet.EUROPEAN, RuleSet.US)


class State(StrEnum):
    CURRENT = "current"
    SUPERSEDED = "superseded"
    PROPOSAL = "proposal"


@dataclass(frozen=True, slots=True)
class Rule:
    """One published rule: who published it, where it counts, and whether it still does. See rules.toml."""

    code: str
    body: str
    jurisdiction: str
    edition: str
    sets: tuple[str, ...]
    state: State
    basis: str
    superseded_by: str = ""
    superseded_for: tuple[str, ...] = ()
    every_set: bool = False
    note: str = ""

    def is_in(self, rule_set: str) -> bool:
        return self.every_set or rule_set in self.sets

    def state_for(self, key: str) -> State:
        """Return whether it is current for one result."""
        return State.SUPERSEDED if key in self.superseded_for else self.state


def _read() -> Mapping[str, Rule]:
    entries = tomllib.loads(FILE.read_text(encoding="utf-8"))["rule"]
    rules = [
        Rule(**{**entry, "sets": tuple(entry["sets"]), "state": State(entry["state"]),
                "superseded_for": tuple(entry.get("superseded_for", ()))})
        for entry in entries
    ]  # fmt: skip
    for rule in rules:
        if unknown := set(rule.sets) - set(PUBLISHED_SETS):
            raise ValueError(f"{FILE.name}, rule {rule.code}: unknown set {', '.join(sorted(unknown))}.")
    if len({rule.code for rule in rules}) < len(rules):
        raise ValueError(f"{FILE.name}: a code is used twice.")
    return MappingProxyType({rule.code: rule for rule in rules})


RULES: Mapping[str, Rule] = _read()


MADE_FROM_READINGS: Mapping[tuple[str, str], str] = MappingProxyType(
    {
        ("oxygen-analyser", "span_error"): "iso80601-2-55",
        ("oxygen-analyser", "air_reading"): "iso80601-2-55-here",
        ("oxygen-analyser", "flush_reading"): "iso80601-2-55-here",
        **{("gas-monitor", f"{gas}_error"): "iso80601-2-55" for gas in ("co2", "n2o", "agent", "oxygen")},
        ("pipeline-supply", "sag"): "alarm-band-20",
        ("supply-failure", "reset_pressure"): "returns-by-full",
        ("oxygen-mixture", "lowest_fraction"): "air-19",
        ("earth-and-insulation", "insulation"): "iec62353",
        ("leakage-currents", "equipment_leakage"): "iec62353",
        ("leakage-currents", "applied_leakage"): "iec62353",
        ("basal-flow", "basal_flow"): "basal-50-250",
        ("scavenging", "extract_flow"): "extract-by-kind",
        ("high-pressure-leak", "pressure_fall"): "fall-100-psi",
        ("breathing-compliance", "hold_fall"): "holds-10-s",
        ("pressure-gauge", "worst_error"): "en837-1",
        ("pressure-gauge", "hysteresis"): "en837-1",
        ("pressure-gauge", "zero_after"): "en837-1",
        ("vaporizer-output", "output_symmetric"): "vaporizer-20-5",
        ("vaporizer-output", "output_asymmetric"): "vaporizer-30-20",
        ("vaporizer-output", "output_audit"): "vaporizer-audit-15",
        ("suction", "vacuum"): "suction-by-kind",
        ("suction", "vacuum_share"): "suction-by-kind",
        ("suction", "free_flow"): "suction-by-kind",
        ("ventilator-volume", "volume_error"): "volume-20",
        ("ventilator-volume", "own_error"): "volume-20",
        ("ventilator-volume", "minute_volume_error"): "volume-20",
        ("ventilator-volume", "rate_error"): "rate-10",
        ("ventilator-volume", "peep_error"): "peep-2-4",
        ("ventilator-volume", "pressure_error"): "iec60601-2-13-pressure",
        ("monitor-readings", "volume_anaesthesia"): "iec60601-2-13-volume",
        ("monitor-readings", "volume_critical"): "iso80601-2-12-volume",
        ("monitor-readings", "pressure_anaesthesia"): "iec60601-2-13-pressure",
        ("monitor-readings", "pressure_critical"): "iso80601-2-12-pressure",
        ("alarms", "low_oxygen_error"): "iso80601-2-55",
        ("alarms", "high_pressure_error"): "alarm-pressure-2-4",
        ("alarms", "continuing_pressure_error"): "alarm-pressure-2-4",
        ("alarms", "low_minute_volume_error"): "iec60601-2-13-volume",
    }
)
"""By test and result: the rule of a limit that the test makes from its readings or for one choice alone."""


def belongs_to(limit: Limit, rule_set: str) -> bool:
    """Return whether a limit may judge at a site with this set.

    A limit that no body published is the house's own (a limit set for a model or site, or stated by a procedure): it
    belongs to every set. With no set chosen, a rule of any of the published sets may judge.
    """
    rule = RULES.get(limit.rule)
    if rule is None:
        return True
    if rule_set == NOT_CHOSEN:
        return any(rule.is_in(one) for one in PUBLISHED_SETS)
    return rule.is_in(rule_set)


def rules_that_apply(
    limits: Sequence[Limit], key: str, *, rule_set: str = NOT_CHOSEN, built_year: int | None = None,
    named: str | None = None,
) -> tuple[Limit, ...]:  # fmt: skip
    """Return every limit that judges this result at a site with this set; the worst of their decisions counts.

    limits      all that are offered
    rule_set    as the site chose; with none, the rules of every published set
    built_year  chooses among editions; with none, those of every year. Where the set has no rule for the year, all its
                rules judge
    named       a rule that the procedure names: it judges alone if the set has it, else it is passed over

    A proposal judges only where it is named; a superseded rule only machines built while it was in force.
    """
    sets = PUBLISHED_SETS if rule_set == NOT_CHOSEN else (rule_set,)
    found = {}
    for one in sets:
        for limit in _of_set([limit for limit in limits if limit.key == key], one, built_year, named):
            found[limit.rule] = limit
    return tuple(found.values())


def _of_set(limits: Sequence[Limit], rule_set: str, built_year: int | None, named: str | None) -> list[Limit]:
    inside = [limit for limit in limits if belongs_to(limit, rule_set)]
    if asked := [limit for limit in inside if limit.rule == named]:
        return asked
    own = [limit for limit in inside if limit.rule not in RULES]
    inside = own or [limit for limit in inside if _judges_unnamed(limit)]
    if built_year is None:
        return inside
    return [limit for limit in inside if limit.covers(built_year)] or inside


def _judges_unnamed(limit: Limit) -> bool:
    state = RULES[limit.rule].state_for(limit.key)
    has_years = limit.built_from is not None or limit.built_before is not None
    return state is State.CURRENT or (state is State.SUPERSEDED and has_years)
