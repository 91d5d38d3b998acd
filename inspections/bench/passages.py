"""Passages of a text that are only for machines with certain equipment or gases.

`{pipeline|With the pipeline disconnected, open|Open} the cylinder.` reads “Open the cylinder.” for a machine known to
have no pipeline inlet, and “With the pipeline disconnected, open the cylinder.” for every other one, and where no
machine is meant. What stands behind the second bar may be left out. `{pipeline yokes|…}` is for machines with both.
"""

import re
from collections.abc import Set

from fleet.catalogue import GASES, Need

EQUIPMENT: tuple[str, ...] = tuple(dict.fromkeys([*map(str, Need), *GASES]))
"""What a passage, a reading or an option may be for: the needs of safety features, and gases, by code."""
_PASSAGE = re.compile(r"\{([^|{}]*)\|([^|{}]*)(?:\|([^|{}]*))?\}")
_FORM = "{pipeline|words for machines with a pipeline inlet|words for others}"


def for_machine(text: str, lacks: Set[str]) -> str:
    """Return a text as it reads for a machine known to lack this equipment and these gases."""

    def words(found: re.Match) -> str:
        return (found[3] or "") if lacks.intersection(found[1].split()) else found[2]

    return _PASSAGE.sub(words, text) if "{" in text else text


def equipment_in(text: str) -> frozenset[str]:
    """Return the codes that the passages of a text ask for."""
    return frozenset(code for found in _PASSAGE.finditer(text) for code in found[1].split())


def passage_problem(text: str) -> str:
    """Return what is wrong with the passages of a text, and what is accepted; empty if nothing is."""
    if re.search(r"[{}]", _PASSAGE.sub("", text)):
        return f"a curly bracket begins or ends no passage. Accepted: {_FORM}, not one within another."
    for found in _PASSAGE.finditer(text):
        codes = found[1].split()
        if unknown := [code for code in codes if code not in EQUIPMENT] or ([] if codes else [found[1]]):
            return f"a passage is for “{unknown[0]}”, which is not known. Accepted: {', '.join(EQUIPMENT)}."
    return ""
