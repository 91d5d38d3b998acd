"""Safety features and the hazards they cover, from features.toml and hazards.toml.

The files name the source of each entry.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from fleet.catalogue.loading import Entry, Source, UnknownFeature, UnknownHazard, by_code, read_tables

PACKAGE = "fleet.catalogue"


class FeatureClass(StrEnum):
    """How necessary the feature is; unwanted: its presence is the problem."""

    ESSENTIAL = "essential"
    EXPECTED = "expected"
    DESIRABLE = "desirable"
    UNWANTED = "unwanted"


class Action(StrEnum):
    """What a feature does about a hazard. What prevents or limits can stop one; the others cannot."""

    PREVENTS = "prevents"  # its cause
    LIMITS = "limits"  # what the cause leads to
    ALARMS = "alarms"
    TELLS = "tells"  # by touch or sight
    NONE = "none"  # an unwanted feature


class Need(StrEnum):
    """What a machine must have for a feature to matter on it."""

    NITROUS_OXIDE = "nitrous-oxide"
    SECOND_GAS = "second-gas"
    PIPELINE = "pipeline"
    YOKES = "yokes"
    VAPORIZER = "vaporizer"
    TWO_VAPORIZERS = "two-vaporizers"
    VENTILATOR = "ventilator"
    SCAVENGING = "scavenging"
    MAINS_POWER = "mains-power"


@dataclass(frozen=True, slots=True)
class Hazard:
    """What can happen without a safety feature. `weight` (1 to 10) is policy, used only for ranking."""

    code: str
    name: str
    description: str
    weight: float
    source: Source
    note: str

    def __str__(self):
        return self.name


@dataclass(frozen=True, slots=True)
class Feature:
    """One safety feature (or unwanted feature): what it does and does not do, and the source."""

    code: str
    name: str
    does: str
    hazards: tuple[str, ...]
    feature_class: FeatureClass
    action: Action
    needs: tuple[Need, ...]
    fulfilled_by: tuple[str, ...]
    since: str
    since_basis: str
    can_be_retrofitted: bool
    retrofit_note: str
    source: Source

    def __str__(self):
        return self.name

    @property
    def can_stop(self) -> bool:
        """Return whether it can stop a hazard; what alarms or tells does not."""
        return self.action in (Action.PREVENTS, Action.LIMITS)

    @property
    def is_unwanted(self) -> bool:
        return self.feature_class is FeatureClass.UNWANTED


@dataclass(frozen=True, slots=True)
class Equipment:
    """The equipment of a machine that decides which features can matter. None = not known.

    gases              catalogue codes of gases it can deliver, oxygen included
    vaporizer_positions  number of vaporizer positions, >= 0
    """

    gases: frozenset[str] | None = None
    vaporizer_positions: int | None = None
    has_pipeline: bool | None = None
    has_yokes: bool | None = None
    has_ventilator: bool | None = None
    has_scavenging: bool | None = None
    has_mains_power: bool | None = None

    def has(self, need: Need) -> bool | None:
        """Return whether the machine has it, or None if not known."""
        if need in (Need.NITROUS_OXIDE, Need.SECOND_GAS):
            return self._can_give(need)
        if need in (Need.VAPORIZER, Need.TWO_VAPORIZERS):
            wanted = 1 if need is Need.VAPORIZER else 2
            return None if self.vaporizer_positions is None else self.vaporizer_positions >= wanted
        return {
            Need.PIPELINE: self.has_pipeline,
            Need.YOKES: self.has_yokes,
            Need.VENTILATOR: self.has_ventilator,
            Need.SCAVENGING: self.has_scavenging,
            Need.MAINS_POWER: self.has_mains_power,
        }[need]

    def _can_give(self, need: Need) -> bool | None:
        if self.gases is None:
            return None
        return "nitrous-oxide" in self.gases if need is Need.NITROUS_OXIDE else bool(self.gases - {"oxygen"})


def absent_needs(feature: Feature, equipment: Equipment) -> tuple[Need, ...]:
    """Return the needs of the feature that the machine is known not to have; empty = it matters here.

    What is not known counts as present, so that missing data never hides a gap.
    """
    return tuple(need for need in feature.needs if equipment.has(need) is False)


def get_feature(code: str) -> Feature:
    """Return the feature of that code, or raise UnknownFeature, which lists the codes."""
    if code not in FEATURES:
        raise UnknownFeature(code, tuple(FEATURES))
    return FEATURES[code]


def get_hazard(code: str) -> Hazard:
    """Return the hazard of that code, or raise UnknownHazard, which lists the codes."""
    if code not in HAZARDS:
        raise UnknownHazard(code, tuple(HAZARDS))
    return HAZARDS[code]


HAZARD_KEYS = ("code", "name", "description", "weight", "source", "edition", "basis", "note")
FEATURE_KEYS = (
    "code", "name", "does", "hazards", "class", "acts", "needs", "fulfilled_by", "since", "since_basis",
    "retrofit", "retrofit_note", "source", "edition", "basis",
)  # fmt: skip


def hazard_from(entry: Entry) -> Hazard:
    """Return the hazard that a TOML table describes. Raises CatalogueError."""
    entry.check_keys(HAZARD_KEYS)
    return Hazard(
        code=entry.text("code"),
        name=entry.text("name"),
        description=entry.text("description"),
        weight=entry.number_in("weight", 1, 10),
        source=entry.source(),
        note=entry.text("note"),
    )


def feature_from(entry: Entry, hazards: Mapping[str, Hazard], codes: tuple[str, ...]) -> Feature:
    """Return the feature that a TOML table describes; `codes` are of all features. Raises CatalogueError."""
    entry.check_keys(FEATURE_KEYS)
    return Feature(
        code=entry.text("code"),
        name=entry.text("name"),
        does=entry.text("does"),
        hazards=entry.codes("hazards", tuple(hazards)),
        feature_class=entry.choice("class", FeatureClass),
        action=entry.choice("acts", Action),
        needs=entry.choices("needs", Need),
        fulfilled_by=entry.codes("fulfilled_by", codes),
        since=entry.text("since", may_be_empty=True),
        since_basis=entry.text("since_basis", may_be_empty=True),
        can_be_retrofitted=entry.truth("retrofit"),
        retrofit_note=entry.text("retrofit_note"),
        source=entry.source(),
    )


def features_from(entries: tuple[Entry, ...], hazards: Mapping[str, Hazard]) -> Mapping[str, Feature]:
    """Return the features of all tables by code. Raises CatalogueError."""
    codes = tuple(entry.text("code") for entry in entries)
    return by_code(entries, lambda entry: feature_from(entry, hazards, codes))


HAZARDS: Mapping[str, Hazard] = by_code(read_tables(PACKAGE, "hazards.toml", "hazard"), hazard_from)
FEATURES: Mapping[str, Feature] = features_from(read_tables(PACKAGE, "features.toml", "feature"), HAZARDS)
