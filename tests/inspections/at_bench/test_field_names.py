"""Names of the bench form's fields: written and read in one module, and each means one field only."""

import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

import inspections
from inspections.at_bench.field_names import (
    column_names,
    names_of_step,
    place_names,
    read_place_name,
    sent_of_step,
)
from inspections.at_bench.slots import MAX_ROWS
from inspections.bench import TESTS

ROOT = Path(inspections.__file__).parent
KEYS = st.from_regex(r"[a-z][a-z0-9_-]{0,38}", fullmatch=True)
PLACES = st.tuples(KEYS, st.just(0), st.just("")) | st.tuples(KEYS, st.integers(0, MAX_ROWS - 1), KEYS)
SYNTAX = re.compile(r":(?:unit|zero|instrument|kept|next)[\"'`]|\.\*\.|name=\"[^\"]*\}\}[:.]")


@given(place=PLACES)
def test_a_place_is_read_back_from_its_name(place):
    assert read_place_name(place_names(*place).value) == place


@given(text=st.text(max_size=30) | st.from_regex(r"[a-z_]{1,8}(\.[0-9*]{1,3}\.[a-z_:]{1,8}){0,2}", fullmatch=True))
def test_a_name_that_is_read_is_the_only_name_of_its_place(text):
    try:
        place = read_place_name(text)
    except ValueError:
        return
    assert place_names(*place).value == text


@given(places=st.lists(PLACES, min_size=2, max_size=6, unique=True))
def test_no_two_fields_of_a_form_have_the_same_name(places):
    names = []
    for place in places:
        one = place_names(*place)
        names += [one.value, one.seen, *one.settings.values()]
    for field, column in {(field, column) for field, _, column in places if column}:
        names += column_names(field, column).settings.values()
    assert len(names) == len(set(names))


def test_no_name_of_a_setting_is_read_as_a_place():
    one = place_names("falling", 3, "flow")
    for name in [one.seen, *one.settings.values(), column_names("falling", "flow").value, names_of_step(7, one).value]:
        with pytest.raises(ValueError, match="not the name of a place"):
            read_place_name(name)


@given(places=st.dictionaries(st.integers(1, 200), PLACES, min_size=1, max_size=5))
def test_each_step_of_a_page_of_several_gets_back_its_own_fields(places):
    sent = {}
    for pk, place in places.items():
        names = names_of_step(pk, place_names(*place))
        sent |= {names.value: str(pk), names.seen: f"seen {pk}"}
    for pk, place in places.items():
        one = place_names(*place)
        assert sent_of_step(sent, pk) == {one.value: str(pk), one.seen: f"seen {pk}"}


def test_every_key_that_a_test_declares_can_be_named():
    for test in TESTS.values():
        keys = [spec.key for spec in (*test.readings, *test.choices)]
        places = [(key, 0, "") for key in keys]
        places += [(table.key, 1, column.key) for table in test.tables for column in table.columns]
        assert all(read_place_name(place_names(*place).value) == place for place in places)


def test_only_one_module_knows_the_syntax():
    files = [path for path in ROOT.rglob("*") if path.suffix in (".py", ".html", ".js") and "bench" not in path.parts]
    files += (ROOT.parent / "config" / "static" / "bobbin").glob("bench_*.js")
    found = {path.name for path in files if SYNTAX.search(path.read_text())}
    assert found == {"field_names.py"}
