"""Which mutants may live, and why: explained.toml, and those that change nothing but the words that people read."""

import io
import re
import tokenize
import tomllib
from collections.abc import Iterable
from contextlib import suppress
from fnmatch import fnmatchcase
from itertools import zip_longest
from pathlib import Path

from .run import Mutant

WORDS = "only words that people read differ"
_SENTENCE = re.compile(r"(\S+ +){2}\S|^[A-Z]\S* +\S|\S +\S+[.?!]$")
"""Three words, or two with a capital before or a stop behind them: not what code looks up or compares."""
_LOOKS_UP = {"choice", "get", "has_failed", "option", "result", "rows", "setting", "value"}
_KEY_BEFORE, _KEY_AFTER = {"==", "!=", "in", "["} | _LOOKS_UP, {"==", "!=", "in", ":", "]"}


def read_explanations() -> list[dict[str, str]]:
    """Return the entries with `where`, `before`, `after` (each with * and ?) and `because`."""
    return tomllib.loads(Path(__file__).with_name("explained.toml").read_text())["mutant"]


def reason_for(mutant: Mutant, explanations: Iterable[dict[str, str]]) -> str:
    """Return why this mutant may live, empty where nobody has said so."""
    for one in explanations:
        if all(fnmatchcase(getattr(mutant, key), one.get(key, "*")) for key in ("where", "before", "after")):
            return one["because"]
    return WORDS if _changes_only_words(mutant.before, mutant.after) else ""


def _changes_only_words(before: str, after: str) -> bool:
    """Whether nothing differs but sentences without places for values, none of which is a key or compared."""
    tokens = _tokens(before)
    pairs = list(zip_longest(tokens, _tokens(after), fillvalue=""))
    changed = [number for number, (one, other) in enumerate(pairs) if one != other]
    return bool(changed) and all(
        all(_is_sentence(text) for text in pairs[number]) and not _is_key(tokens, number) for number in changed
    )


def _tokens(line: str) -> list[str]:
    found = []
    with suppress(tokenize.TokenError):  # a piece of a statement leaves brackets open: by then all of it is found
        found.extend(one.string for one in tokenize.generate_tokens(io.StringIO(line).readline) if one.string.strip())
    return found


def _is_sentence(token: str) -> bool:
    return token[:1] in "\"'" and bool(_SENTENCE.search(token[1:-1].removeprefix("XX").removesuffix("XX")))


def _is_key(tokens: list[str], number: int) -> bool:
    before = {one for one in tokens[max(number - 2, 0) : number] if one != "("}
    return bool(before & _KEY_BEFORE) or tokens[number + 1 : number + 2] in [[one] for one in _KEY_AFTER]
