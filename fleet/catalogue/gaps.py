"""Decides which safety features matter on a machine, and which of those are gaps."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from enum import StrEnum

from fleet.catalogue import FEATURES, Equipment, Feature, FeatureClass, Need, absent_needs, get_feature

ESSENTIAL = tuple(code for code, f in FEATURES.items() if f.feature_class is FeatureClass.ESSENTIAL)

NEED_WORDS = {
    Need.NITROUS_OXIDE: "it delivers no nitrous oxide",
    Need.SECOND_GAS: "it delivers no gas other than oxygen",
    Need.PIPELINE: "it has no pipeline inlet",
    Need.YOKES: "it has no cylinder yoke",
    Need.VAPORIZER: "it has no vaporizer position",
    Need.TWO_VAPORIZERS: "it has fewer than two vaporizer positions",
    Need.VENTILATOR: "it has no ventilator",
    Need.SCAVENGING: "it has no scavenging",
    Need.MAINS_POWER: "it needs no mains power",
}


class Standing(StrEnum):
    """The meaning of a recorded state for the feature on this machine."""

    COVERED = "covered"
    GAP = "gap"
    DOUBT = "doubt"
    REPLACED = "replaced"
    DOES_NOT_APPLY = "does not apply"


@dataclass(frozen=True, slots=True)
class Judged:
    """A standing, with the reason in words if one is needed."""

    standing: Standing
    reason: str = ""

    @property
    def is_gap(self) -> bool:
        return self.standing is Standing.GAP


def good_state(feature: Feature) -> str:
    """Return the state in which the feature protects: fitted, or not fitted for an unwanted one."""
    return "not fitted" if feature.is_unwanted else "fitted"


def bad_state(feature: Feature) -> str:
    """Return the state that is a gap where the feature is needed and nothing replaces it."""
    return "fitted" if feature.is_unwanted else "not fitted"


def by_stand_ins(features: Iterable[Feature]) -> dict[tuple[str, ...], list[str]]:
    """Group the codes of the features by the codes of the features that can replace them."""
    groups = {}
    for feature in features:
        if feature.fulfilled_by:
            groups.setdefault(feature.fulfilled_by, []).append(feature.code)
    return groups


def fitted_stand_ins(feature: Feature, states: Mapping[str, str]) -> list[str]:
    """Return the codes of the fitted features that replace `feature`; `states` maps codes to states."""
    return [code for code in feature.fulfilled_by if states.get(code) == "fitted"]


def judge_feature(feature: Feature, states: Mapping[str, str], equipment: Equipment) -> Judged:
    """Return the standing of `feature` on a machine whose features are in `states` (code -> state).

    A feature without a recorded state is not known. A fitted feature is covered even if it is not needed; an unwanted
    one is a gap if it is fitted.
    """
    state = states.get(feature.code, "not known")
    if state != "fitted" or feature.is_unwanted:
        absent = absent_needs(feature, equipment)
        if absent:
            return Judged(Standing.DOES_NOT_APPLY, "; ".join(NEED_WORDS[need] for need in absent))
    if state == "not known":
        return _unless_replaced(feature, states, Judged(Standing.DOUBT))
    if state == good_state(feature):
        return Judged(Standing.COVERED)
    return _unless_replaced(feature, states, Judged(Standing.GAP))


def _unless_replaced(feature, states, otherwise):
    stand_ins = fitted_stand_ins(feature, states)
    if not stand_ins:
        return otherwise
    names = ", ".join(get_feature(code).name.lower() for code in stand_ins)
    return Judged(Standing.REPLACED, f"{names} does its job")
