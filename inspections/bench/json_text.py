"""JSON that was typed or made by another program, with everything refused that could be read in two ways."""

import json
import reprlib
from typing import Any

from .errors import BenchError

DEEPEST = 12  # an example has 6 levels
LONGEST_TEXT = 1000

_short = reprlib.Repr()
_short.maxlevel, _short.maxstring, _short.maxother, _short.maxlong = 2, 60, 60, 40


def parse_json(text: str) -> Any:
    """Return the data of a JSON text.

    Raises BenchError for what is no JSON, numbers that are not finite, names given twice, more than DEEPEST levels, and
    texts that are longer than LONGEST_TEXT or hold characters that cannot be printed.
    """
    try:
        data = json.loads(text, object_pairs_hook=_once, parse_constant=_refuse_constant)
    except BenchError:
        raise
    except (ValueError, RecursionError) as error:
        reason = "nested too deeply" if isinstance(error, RecursionError) else error
        raise BenchError("", f"is not JSON: {reason}") from None
    _check(data)
    return data


def shown(value: Any) -> str:
    """Return any JSON value as a short text for a message."""
    return _short.repr(value)


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    data = dict(pairs)
    if len(data) < len(pairs):
        twice = next(key for number, (key, _) in enumerate(pairs) if key in dict(pairs[:number]))
        raise BenchError("", f"gives {shown(twice)} twice in one object. Leave one out.")
    return data


def _refuse_constant(word: str):
    raise BenchError("", f"is not JSON: {word} is not a number that can be used. Give a finite number.")


def _check(data: Any) -> None:
    """Look at every value; without recursion, so that depth can be refused whatever it is."""
    level = [data]
    for _ in range(DEEPEST):
        texts = [value for value in level if isinstance(value, str)]
        texts += [key for value in level if isinstance(value, dict) for key in value]
        for text in texts:
            _check_text(text)
        level = [
            inner
            for value in level
            if isinstance(value, (dict, list))
            for inner in (value.values() if isinstance(value, dict) else value)
        ]
        if not level:
            return
    raise BenchError("", f"is nested more than {DEEPEST} levels deep; readings need half of that.")


def _check_text(text: str) -> None:
    if len(text) > LONGEST_TEXT:
        raise BenchError("", f"holds a text of {len(text)} characters; accepted: {LONGEST_TEXT} at most.")
    if "\0" in text or any("\ud800" <= letter <= "\udfff" for letter in text):
        raise BenchError("", f"holds a text with a character that cannot be printed: {shown(text)}.")
