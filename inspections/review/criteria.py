"""The published obsolescence criteria, from criteria.toml."""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from fleet.catalogue import FEATURES, HAZARDS, Source
from fleet.catalogue.gaps import bad_state
from fleet.catalogue.loading import Entry, UnknownCode, by_code, read_tables


class UnknownCriterion(UnknownCode):
    """No such criterion."""

    thing = "criterion"


class Kind(StrEnum):
    """Absolute: one met makes the machine obsolete. Relative: reasons to consider replacement."""

    ABSOLUTE = "absolute"
    RELATIVE = "relative"


class DecidedBy(StrEnum):
    """What answers a criterion."""

    FEATURE = "feature"
    UPKEEP = "upkeep"
    TREND = "trend"
    JUDGEMENT = "judgement"


@dataclass(frozen=True, slots=True)
class Criterion:
    """One criterion as a statement; it is met when the statement is true of a machine."""

    code: str
    kind: Kind
    group: str
    says: str
    decided_by: DecidedBy
    feature: str
    when: str
    hazards: tuple[str, ...]
    source: Source

    def __str__(self):
        return f"{self.code} {self.says}"

    @property
    def is_absolute(self) -> bool:
        return self.kind is Kind.ABSOLUTE


def get_criterion(code: str) -> Criterion:
    """Return the criterion of that code, or raise UnknownCriterion, which lists the codes."""
    if code not in CRITERIA:
        raise UnknownCriterion(code, tuple(CRITERIA))
    return CRITERIA[code]


KEYS = ("code", "kind", "group", "says", "decided_by", "feature", "when", "hazards", "source", "edition", "basis")


def criterion_from(entry: Entry) -> Criterion:
    """Return the criterion that a TOML table describes. Raises CatalogueError."""
    entry.check_keys(KEYS)
    decided_by = entry.choice("decided_by", DecidedBy)
    feature, when = entry.text("feature", may_be_empty=True), entry.text("when", may_be_empty=True)
    hazards = entry.codes("hazards", tuple(HAZARDS))
    if decided_by is DecidedBy.FEATURE:
        if feature not in FEATURES:
            raise entry.refuse(f"feature is {feature!r}; accepted: {', '.join(FEATURES)}.")
        if when != bad_state(FEATURES[feature]):
            raise entry.refuse(f"when is {when!r}; accepted for {feature}: {bad_state(FEATURES[feature])}.")
        hazards = FEATURES[feature].hazards
    return Criterion(
        code=entry.text("code"),
        kind=entry.choice("kind", Kind),
        group=entry.text("group"),
        says=entry.text("says"),
        decided_by=decided_by,
        feature=feature,
        when=when,
        hazards=hazards,
        source=entry.source(),
    )


CRITERIA: Mapping[str, Criterion] = by_code(
    read_tables("inspections.review", "criteria.toml", "criterion"), criterion_from
)
