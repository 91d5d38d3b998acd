"""Compare what a page showed with what is so now."""

from dataclasses import dataclass

from inspections.concurrent_edits import NOT_TOLD
from inspections.errors import GroundsChanged
from inspections.records.content import canonical_json, digest_of

EXACT = "Computed values"  # a digest of every digit, also of those that no page shows
RENAMED = {  # words of earlier versions, in proposals that were stored then
    "Against the release": "Reasons against release",
    "Inspections on the bench": "Inspections in progress",
    "Part": "Component",
    "Place": "Location",
}


@dataclass(frozen=True, slots=True)
class GroundChange:
    """One line that differs: `was` is None for what is new, `now` for what is gone."""

    where: str
    what: str
    was: str | None
    now: str | None


def changes_between(shown, now):
    """Return what differs between two descriptions, in the order of the page."""
    shown = _in_present_words(shown)
    changes = []
    for where in dict.fromkeys([*shown, *now]):
        changes += _changes_at(where, shown.get(where, {}), now.get(where, {}))
    return changes


def digest_of_grounds(grounds):
    """SHA-256 of the canonical JSON of a description."""
    return digest_of(canonical_json(grounds))


def refuse_if_changed(shown, now):
    """Raise GroundsChanged if the page showed something else. `shown` is None for a form that does not say."""
    if shown is NOT_TOLD:
        return
    if shown is None:
        raise GroundsChanged([])
    changes = changes_between(shown, now)
    if changes:
        raise GroundsChanged(changes)


def _in_present_words(grounds):
    renamed = {
        where: {RENAMED.get(what, what): text for what, text in lines.items()} for where, lines in grounds.items()
    }
    return {RENAMED.get(where, where): lines for where, lines in renamed.items()}


def _changes_at(where, before, after):
    names = [name for name in dict.fromkeys([*before, *after]) if before.get(name) != after.get(name)]
    plain = [GroundChange(where, name, before.get(name), after.get(name)) for name in names if name != EXACT]
    if plain or not names:
        return plain
    return [GroundChange(where, EXACT, "as shown", "different in digits that the page does not show")]
