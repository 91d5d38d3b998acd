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
