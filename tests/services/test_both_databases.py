"""The rule by which PostgreSQL repeats tests names what is there, and takes every list and every commit along."""

from pathlib import Path
from types import SimpleNamespace

import pytest

from tests.services.both_databases import LEFT_TO_SQLITE, LISTS, TESTS, is_left_to_sqlite


def node(path, *fixtures):
    return SimpleNamespace(path=TESTS / path, fixturenames=list(fixtures), get_closest_marker=lambda name: None)


@pytest.mark.parametrize("path", LEFT_TO_SQLITE + LISTS)
def test_what_the_rule_names_is_there(path):
    assert (TESTS / path).exists()


@pytest.mark.parametrize("path", LISTS)
def test_a_list_is_of_a_room_that_is_left_to_sqlite_and_repeated_nevertheless(path):
    assert any(str(room) in LEFT_TO_SQLITE for room in Path(path).parents)
    assert not is_left_to_sqlite(node(path))


def test_what_commits_is_repeated_in_every_room():
    assert is_left_to_sqlite(node("inspections/deciding/test_second_person.py", "db"))
    assert not is_left_to_sqlite(node("inspections/deciding/test_second_person.py", "transactional_db"))


@pytest.mark.parametrize("room", ["fleet/models", "inspections/models", "inspections/actions", "inspections/chain"])
def test_rooms_that_ask_and_write_records_are_repeated(room):
    assert not is_left_to_sqlite(node(f"{room}/test_any.py", "db"))


def test_a_room_is_told_from_one_whose_name_begins_alike():
    assert not is_left_to_sqlite(node("fleet/views_of_lists/test_any.py", "db"))
