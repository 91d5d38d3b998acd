"""The names that the code defines have the words of the glossary: classes, functions, arguments, fields, variables."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
BANNED = {
    "maker": "manufacturer",
    "duty": "status",
    "duties": "statuses",
    "outcome": "result",
    "joint": "connection",
    "on_bench": "in_progress",
}
OF_A_CIRCUIT = {"part": "component", "link": "connection", "pipe": "connection"}
CIRCUIT_ROOMS = (
    "fleet/circuit/", "fleet/circuits/", "fleet/actions/circuit", "fleet/forms/circuit", "fleet/forms/components",
    "fleet/imports/components", "fleet/models/components", "fleet/views/circuit", "fleet/views/components",
)  # fmt: skip
LEFT_OUT = {
    "fleet/api/": "keys of the API",
    "inspections/api/": "keys of the API",
    "fleet/circuit/drawing/": "a pipe is what is drawn for a connection",
}
ALLOWED = {
    "RatioLink": "the name of a component in the trade",
    "PipeReliefValve": "the name of a component in the trade",
    "part_number": "what is bought",
    "_link": "an address in a page",
    "_page_or_part": "a part of a page",
    "render_page_or_part": "a part of a page",
    "is_part": "a part of a page",
}


def names_of(tree: ast.AST) -> Iterator[str]:
    for node in ast.walk(tree):
        if isinstance(node, ast.ClassDef | ast.FunctionDef):
            yield node.name
        elif isinstance(node, ast.arg):
            yield node.arg
        elif isinstance(node, ast.Name | ast.Attribute) and isinstance(node.ctx, ast.Store):
            yield node.id if isinstance(node, ast.Name) else node.attr


def banned_in(name: str, words: dict[str, str]) -> Iterator[str]:
    """Yield what to write instead of each banned word in a name, in the singular or the plural."""
    pieces = "_".join(re.findall(r"[A-Z]+(?![a-z])|[A-Z]?[a-z]+", name)).lower()
    for word, better in words.items():
        if name not in ALLOWED and re.search(rf"(?<![a-z]){word}s?(?![a-z])", pieces):
            yield f"{name}, better {better}"


def findings() -> Iterator[str]:
    for root in ("config", "fleet", "inspections"):
        for path in sorted((ROOT / root).rglob("*.py")):
            where = str(path.relative_to(ROOT))
            if "/migrations/" in where or where.startswith(tuple(LEFT_OUT)):
                continue
            words = BANNED | (OF_A_CIRCUIT if where.startswith(CIRCUIT_ROOMS) else {})
            for name in sorted(set(names_of(ast.parse(path.read_text(encoding="utf-8"))))):
                yield from (f"{where}: {found}" for found in banned_in(name, words))


def test_names_in_code_have_the_words_of_the_glossary():
    assert list(findings()) == []


@pytest.mark.parametrize(
    ("source", "better"),
    [
        ("class DutyChange: pass", "status"),
        ("def with_outcomes(rows): pass", "result"),
        ("def f(maker): pass", "manufacturer"),
        ("MOST_JOINTS = 3", "connection"),
        ("class A:\n    part: str", "component"),
        ("self.is_on_bench = True", "in_progress"),
    ],
)
def test_a_banned_word_is_found_in_whatever_a_module_names(source, better):
    names = names_of(ast.parse(source))
    (found,) = (one for name in names for one in banned_in(name, BANNED | OF_A_CIRCUIT))
    assert found.endswith(f"better {better}")


@pytest.mark.parametrize("name", ["RatioLink", "department", "partial", "isdisjoint", "part_number", "onset"])
def test_names_of_the_trade_and_longer_words_are_no_finding(name):
    assert list(banned_in(name, BANNED | OF_A_CIRCUIT)) == []
