"""Every mark has its own shape, and page and paper use the same names."""

import re
from itertools import combinations
from pathlib import Path
from xml.etree import ElementTree

import pytest

from fleet.drawing import CONCLUSION_MARKS, DECISION_MARKS, FEATURE_MARKS, mark, wordmark
from tests.drawing_reader import leaves, stays_inside, texts

STATIC = Path(__file__).parents[3] / "config" / "static" / "bobbin"
NAMES = FEATURE_MARKS + DECISION_MARKS + CONCLUSION_MARKS

# The stages of background jobs use the marks of an inspection's stages and of a fail.
BORROWED = {"waiting": "planned", "running": "in-progress", "done": "signed", "failed": "fail", "cancelled": "void"}
BORROWED["withdrawn-from-use"] = "withdrawn"


def outline(name):
    """Return a mark without its colours: the shapes and their positions."""
    return sorted((type(shape).__name__, *shape.getBounds()) for shape, _ in leaves(mark(name, 0, 0, 20)))


@pytest.mark.parametrize("one, other", list(combinations(NAMES, 2)))
def test_two_marks_differ_without_their_colour(one, other):
    assert outline(one) != outline(other)


@pytest.mark.parametrize("name", NAMES)
def test_a_mark_of_the_paper_is_also_in_the_stylesheet(name):
    assert f".mark-{name.replace(' ', '-')} {{" in (STATIC / "bobbin.css").read_text()


def test_each_mark_of_the_stylesheet_shows_the_sign_of_its_own_name():
    groups = ElementTree.parse(STATIC / "marks.svg").getroot()
    drawn = {group.get("id"): group.get("transform") for group in groups}
    cells = re.findall(r"\.mark-([a-z-]+) \{ --cell: (\d+) \}", (STATIC / "bobbin.css").read_text())
    shown = {name: f"translate(0 {20 * int(cell)})" for name, cell in cells}
    assert shown == drawn | {word: drawn[sign] for word, sign in BORROWED.items()}


def test_an_unknown_mark_is_refused_with_the_list_of_marks():
    with pytest.raises(ValueError, match="not fitted, not known"):
        mark("perhaps", 0, 0, 10)


def test_the_wordmark_stays_inside_its_box():
    drawing = wordmark(40)
    assert texts(drawing) == ["Bobbin"] and stays_inside(drawing)
