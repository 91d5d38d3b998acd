"""Which mutants may live, and why: explained.toml, and those that change nothing but the words of a message."""

import re
import tomllib
from collections.abc import Iterable
from fnmatch import fnmatchcase
from pathlib import Path

from .run import Mutant

_TEXT = re.compile(r"""[rbf]?("(?:[^"\\]|\\.)*"|'(?:[^'\\]|\\.)*')""")
WORDS = "only the words of a message differ"


def read_explanations() -> list[dict[str, str]]:
    """Return the entries with `where`, `before`, `after` (each with * and ?) and `because`."""
    return tomllib.loads(Path(__file__).with_name("explained.toml").read_text())["mutant"]


def reason_for(mutant: Mutant, explanations: Iterable[dict[str, str]]) -> str:
    """Return why this mutant may live, empty where nobody has said so."""
    for one in explanations:
        if all(fnmatchcase(getattr(mutant, key), one.get(key, "*")) for key in ("where", "before", "after")):
            return one["because"]
    return WORDS if _without_texts(mutant.before) == _without_texts(mutant.after) else ""


def _without_texts(line: str) -> str:
    return _TEXT.sub('""', line)
