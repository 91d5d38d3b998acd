"""Texts for a page on the safety features that would close what a circuit leaves open."""

from collections import Counter
from dataclasses import dataclass

from fleet.catalogue import FEATURES, HAZARDS, Feature
from fleet.documents.phrases import lower_first

MOST_NAMED = 30


@dataclass(frozen=True, slots=True)
class ShownAlteration:
    """One safety feature to fit (or an unwanted feature to remove) and the open causes that it closes by itself."""

    feature: Feature
    closes: str

    @property
    def verb(self):
        return "Remove" if self.feature.is_unwanted else "Fit"


@dataclass(frozen=True, slots=True)
class ShownSet:
    """One closing set: its alterations, what they close together, what they leave, what they open."""

    alterations: tuple[ShownAlteration, ...]
    closed: str
    left: str
    opens: str
    can_be_retrofitted: bool

    @property
    def title(self):
        """The alterations, such as “Fit outlet check valve, oxygen analyser; remove measured-flow vaporizer”."""
        words = []
        for verb in ("Fit", "Remove"):
            names = [lower_first(each.feature.name) for each in self.alterations if each.verb == verb]
            words += [f"{verb if not words else lower_first(verb)} {', '.join(names)}"] if names else []
        return "; ".join(words)


@dataclass(frozen=True, slots=True)
class ShownClosing:
    """All sets; `never` lists (hazard, cause) that nothing closes, at most MOST_NAMED; `more` counts the others."""

    sets: tuple[ShownSet, ...] = ()
    never: tuple[tuple[str, str], ...] = ()
    more: int = 0


def shown_closing(closing):
    """Return ClosingSets for a page."""
    sets = tuple(
        ShownSet(
            alterations=tuple(ShownAlteration(FEATURES[code], by_hazard(each.closes[code])) for code in each.features),
            closed=by_hazard(each.closed),
            left=by_hazard(each.left),
            opens=by_hazard(each.opens),
            can_be_retrofitted=each.can_be_retrofitted,
        )
        for each in closing
    )
    left = [gap for gap in closing[0].left if all(gap in each.left for each in closing)] if closing else []
    never = tuple((HAZARDS[gap.hazard].name, gap.title) for gap in left[:MOST_NAMED])
    return ShownClosing(sets, never, max(0, len(left) - MOST_NAMED))


def by_hazard(gaps):
    """Return the number of causes of each hazard in words, such as “barotrauma 2, awareness 1”; empty for none."""
    counts = Counter(gap.hazard for gap in gaps)
    return ", ".join(f"{lower_first(HAZARDS[code].name)} {counts[code]}" for code in HAZARDS if counts[code])


def closers_of(hazard, closing):
    """Return what would close a hazard: each safety feature with the number of open causes that it closes by itself."""
    found = {}
    for each in closing:
        for code, gaps in each.closes.items():
            found[code] = sum(gap.hazard == hazard for gap in gaps)
    best = sorted((code for code, count in found.items() if count), key=lambda code: (-found[code], code))
    return "; ".join(f"{_what(FEATURES[code])} closes {found[code]}" for code in best)


def _what(feature):
    name = lower_first(feature.name)
    words = f"without {name}:" if feature.is_unwanted else name
    return words if feature.can_be_retrofitted else f"{words} (not a retrofit)"
