"""A decision in words: with its limit where nobody confirmed that, and the result of a whole inspection."""

from collections.abc import Iterable, Mapping

from .results import Result

JUDGED_WORST_FIRST = ("fail", "conditional fail", "conditional pass", "pass")
WORST_FIRST = ("fail", "conditional fail", "not tested", "not decided", "conditional pass", "pass")
FAILED = ("fail", "conditional fail")
INCOMPLETE = "incomplete"
NO_JUDGED_RESULT = "no judged result"
_LIMIT_NOT_CONFIRMED = "limit not confirmed"


def decision_words(decision: str | None, is_confirmed: bool | None) -> str:
    """Return “pass”, or “pass, limit not confirmed”; empty where nothing was judged.

    is_confirmed  whether somebody confirmed the limit for the site; None where that is not stated
    """
    word = str(decision or "")
    return f"{word}, {_LIMIT_NOT_CONFIRMED}" if is_confirmed is False and word in JUDGED_WORST_FIRST else word


def result_words(result: Result) -> str:
    """Return the decision of one result in words."""
    return decision_words(result.decision, limit_confirmed(result))


def limit_confirmed(result: Result) -> bool | None:
    """Return whether the limit that judged a result was confirmed; None without a limit or where it is not stated."""
    return result.limit.is_confirmed if result.limit else None


def is_settled(decisions: Iterable[str]) -> bool:
    """Return whether the results of one step prove something: at least one was judged, and none was left undecided.

    decisions  as words; empty for a result that is reported only
    """
    given = [str(decision) for decision in decisions if decision]
    return bool(given) and all(decision in JUDGED_WORST_FIRST for decision in given)


def is_settled_again(decided: Mapping[str, str], earlier: Iterable[str]) -> bool:
    """Return whether a set of readings as left proves something: it must also judge what earlier sets judged.

    decided  result key -> decision as a word; empty for a result that is reported only
    earlier  keys of the results that have a decision in an earlier set of the same step
    """
    judged = {key for key, decision in decided.items() if decision in JUDGED_WORST_FIRST}
    return is_settled(decided.values()) and judged.issuperset(earlier)


def worst_words(results: Iterable[tuple[str, bool | None]]) -> str:
    """Return the worst of several (decision, is_confirmed) in words; empty where nothing was judged.

    Where one of the limits was not confirmed, the words say so.
    """
    judged = [(str(decision), is_confirmed) for decision, is_confirmed in results if decision in WORST_FIRST]
    words = {decision for decision, _ in judged}
    worst = next((word for word in WORST_FIRST if word in words), "")
    return decision_words(worst, False if any(is_confirmed is False for _, is_confirmed in judged) else None)


def gravity(words: str) -> int:
    """Return what sorts decisions in words, the gravest first; what has none comes last."""
    word = words.partition(",")[0]
    return WORST_FIRST.index(word) if word in WORST_FIRST else len(WORST_FIRST)


def inspection_words(results: Iterable[tuple[str, bool | None]], *, is_complete: bool) -> str:
    """Return the result of a whole inspection: the worst decision, or that nothing was judged.

    An incomplete one is a pass of no kind: “incomplete”, or “fail, incomplete” where what was judged failed.
    """
    worst = worst_words(results)
    if is_complete:
        return worst or NO_JUDGED_RESULT
    return f"{worst}, {INCOMPLETE}" if worst.startswith(FAILED) else INCOMPLETE
