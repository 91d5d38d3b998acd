"""While states are solved, unreachable cycles wait."""

import gc

import pytest

from fleet.circuit import cover
from fleet.circuit.causes import causes_of
from fleet.circuit.collection import no_collection
from tests.fleet.circuit.demo_machines import machine


def test_collection_is_off_within_and_as_before_after_even_where_it_fails():
    assert gc.isenabled()
    with pytest.raises(ZeroDivisionError), no_collection():
        assert not gc.isenabled()
        with no_collection():
            pass
        assert not gc.isenabled(), "the outer one goes on"
        raise ZeroDivisionError
    assert gc.isenabled()


def test_between_batches_of_causes_it_is_on(monkeypatch):
    monkeypatch.setattr(cover, "MOST_AT_ONCE", 2)
    told = []
    cover.cover_table(machine(), causes=causes_of(machine())[:4], progress=lambda *_: told.append(gc.isenabled()))
    assert told == [True] * 4


def test_what_was_made_within_joins_the_oldest_objects_without_a_search():
    gc.unfreeze()  # what another test of this process kept apart
    searches = []
    gc.callbacks.append(lambda phase, _: searches.append(phase))
    try:
        with no_collection():
            made = [[number] for number in range(5000)]
        oldest = {id(each) for each in gc.get_objects(generation=2)}
    finally:
        gc.callbacks.pop()
    assert {id(each) for each in made} <= oldest and searches == []


def test_what_a_server_keeps_apart_stays_apart():
    gc.freeze()
    try:
        with no_collection():
            pass
        assert gc.get_freeze_count() > 0
    finally:
        gc.unfreeze()
