"""The spellings that hospitals use for yes, no, unknown and sizes, and their meaning.

Source of the spellings: common practice, no source. Meaning of connector sizes: fleet/catalogue/features.toml.
"""

import re
from collections.abc import Mapping

FITTED, NOT_FITTED, NOT_KNOWN = STATES = ("fitted", "not fitted", "not known")
SPELLINGS: Mapping[str, tuple[str, ...]] = {
    FITTED: ("fitted", "yes", "y", "x", "1", "true", "present", "has", "with", "installed", "✓", "✔"),
    NOT_FITTED: (
        "not fitted",
        "no",
        "n",
        "0",
        "false",
        "none",
        "absent",
        "missing",
        "without",
        "-",
        "–",
        "—",
        "✗",
        "✘",
    ),
    NOT_KNOWN: ("not known", "unknown", "unk", "?", "n/k", "nk", "not checked", "to be checked", "tbc"),
}
STATE_OF: Mapping[str, str] = {word: state for state, words in SPELLINGS.items() for word in words}
ACCEPTED_STATES = (
    "fitted (yes, y, x, 1, present), not fitted (no, n, 0, none, absent, -), not known (unknown, ?, n/k), or blank."
)
SIZES_MM = (15, 19, 22, 30)
ACCEPTED_SIZES = "15, 19, 22 or 30 mm, or a pair such as 22/15; not known; or blank."
SIZE = re.compile(r"(\d{1,3})(?:[.,]0+)?(?:\s*mm)?")


def state_in(text: str) -> str | None:
    """Return the feature state in a cell, or None if there is none."""
    return STATE_OF.get(plain(text).rstrip("."))


def sizes_in(text: str) -> tuple[int, ...] | None:
    """Return the connector sizes in millimetres that a cell names, smallest first, or None if it names more."""
    parts = re.split(r"\s*(?:/|&|\+| and )\s*", plain(text))
    found = [SIZE.fullmatch(part) for part in parts]
    if not all(found):
        return None
    sizes = sorted({int(match.group(1)) for match in found})
    return tuple(sizes) if set(sizes) <= set(SIZES_MM) else None


def scavenging_states(sizes: tuple[int, ...]) -> dict[str, str]:
    """Return the states for the size of waste gas connectors: 30 mm fits no breathing system, 22 and 15 mm do."""
    return {
        "scavenging-30mm": FITTED if 30 in sizes else NOT_FITTED,
        "scavenging-breathing-size": FITTED if {15, 22} & set(sizes) else NOT_FITTED,
    }


def breathing_states(sizes: tuple[int, ...]) -> dict[str, str]:
    """Return the states for the size of the breathing connectors: 22 and 15 mm are the pair of ISO 5356-1."""
    return {"breathing-connectors": FITTED if set(sizes) <= {15, 22} else NOT_FITTED}


SIZE_COLUMNS = {"scavenging_connector": scavenging_states, "breathing_connector": breathing_states}


def plain(text: str) -> str:
    """Return the text in lower case, with single blanks."""
    return " ".join(text.lower().split())
