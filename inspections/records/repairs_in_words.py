"""The repairs of a signed step as sentences, for page and paper."""

from datetime import datetime
from zoneinfo import ZoneInfo

from fleet.days import long_moment
from fleet.place_format import current

NAMES = (("serial", "serial"), ("lot", "lot"), ("part_number", "part number"))
NOT_STATED = "no serial, lot or part number stated"


def set_words(content):
    """“as found”, “as left” or “as left, set 3”; empty for a step with a single set of readings."""
    state, number = content.get("state", ""), content.get("set")
    return f"{state}, set {number}" if number else state


def repair_sentences(content):
    """What was done before the readings of a step were taken, and what was replaced at it."""
    sentences = []
    if "work" in content:
        work = content["work"]
        sentences.append(f"Tested again as left. {_ended(work['what'])} {_who(work)}.")
    for one in content.get("replaced", []):
        sentences.append(f"Component replaced: {one['label']}. {replaced_words(one)}. {_who(one)}.")
    return sentences


def replaced_words(one):
    """Which example of a component was removed and which fitted, in a line."""
    note = f"; {one['note'].rstrip('.')}" if one.get("note") else ""
    return f"Removed: {_plate(one['removed'])}; fitted: {_plate(one['fitted'])}{note}"


def _plate(plate):
    return ", ".join(f"{words} {plate[name]}" for name, words in NAMES if plate[name]) or NOT_STATED


def _who(told):
    at = datetime.fromisoformat(told["at"]).astimezone(ZoneInfo(current().zone or "UTC"))
    return f"{told['by']['name']}, {long_moment(at)}"


def _ended(words):
    return f"{words.rstrip('.')}."
