"""The sets of published rules among which a site chooses."""

from enum import StrEnum


class RuleSet(StrEnum):
    """What a site may choose. OWN: only limits that the site or its procedures state themselves."""

    INTERNATIONAL = "international"
    EUROPEAN = "european"
    US = "us"
    OWN = "own"


NOT_CHOSEN = ""
RULE_SET_TITLES = {
    RuleSet.INTERNATIONAL: "International",
    RuleSet.EUROPEAN: "European",
    RuleSet.US: "United States",
    RuleSet.OWN: "Own: only limits set for the site, for a model, or by a procedure itself",
}


def rule_set_in_words(code):
    """Return what pages and records call a set: “European rules”; for a site without one that it is not chosen."""
    if code == NOT_CHOSEN:
        return "not chosen: the strictest published rules apply"
    return "own limits only" if code == RuleSet.OWN else f"{RULE_SET_TITLES[RuleSet(code)]} rules"
