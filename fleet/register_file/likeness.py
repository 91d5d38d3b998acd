"""How much a name in a file is like a name of the register, so that the likely answer is offered first."""

import re
from collections.abc import Iterable
from difflib import SequenceMatcher

LIKELY = 0.62  # below this no name is suggested: common practice, no source
WORDS = re.compile(r"[^\W_]+")
FILLERS = frozenset(("the", "of", "and", "hospital", "no", "machine", "site", "centre", "center", "st", "saint"))
SAME = {"theater": "theatre", "th": "theatre", "thtr": "theatre", "rm": "room", "dept": "department", "or": "theatre"}


def most_like(text: str, names: Iterable[str]) -> str | None:
    """Return the name that is most like the text, or None if none is likely."""
    scored = sorted(((likeness(text, name), name) for name in names), reverse=True)
    return scored[0][1] if scored and scored[0][0] >= LIKELY else None


def likeness(text: str, name: str) -> float:
    """Return 0 to 1: by letters, by words that both have, and by initials. Different numbers are never alike."""
    ours, theirs = _words(text), _words(name)
    if _numbers(ours) != _numbers(theirs) and _numbers(ours):
        return 0.0
    by_letters = SequenceMatcher(None, "".join(ours), "".join(theirs)).ratio()
    mine, other = set(ours) - FILLERS, set(theirs) - FILLERS
    shared = [word for word in mine if any(one.startswith(word) for one in other)]  # “Gen.” and “L.” are beginnings
    by_words = 0.9 * len(shared) / min(len(mine), len(other)) if mine and other else 0.0
    initials = "".join(word[0] for word in theirs)
    is_short = len(ours) == 1 and len(ours[0]) > 1
    by_initials = 0.85 if is_short and ours[0] in (initials, initials + "h") else 0.0
    return max(by_letters, by_words, by_initials)


def _words(text):
    return [SAME.get(word, word) for word in WORDS.findall(text.lower().replace("'", "").replace("’", ""))]


def _numbers(words):
    return [number for word in words for number in re.findall(r"[0-9]+", word)]
