"""Cover tables and closing sets as JSON and back."""

import json

import pytest

from fleet.circuit.causes import causes_of, pair_of
from fleet.circuit.closing import closing_sets
from fleet.circuit.cover import cover_table
from fleet.circuit.cover_rows import CoverTable, Unsolved
from fleet.circuit.serialise import (
    TableFormatError,
    closing_from_dict,
    closing_to_dict,
    table_from_dict,
    table_to_dict,
)
from fleet.circuit.usual_states import ordinary_state
from tests.fleet.circuit.demo_machines import cause, machine

CODES = ("oxygen-inlet-lost", "outlet-out-fresh-gas-hose-in-off", "flow-bank-leaking", "flush-valve-held")


@pytest.fixture(scope="module")
def table():
    chosen = [cause(code) for code in CODES]
    pair = pair_of(cause("oxygen-inlet-lost"), cause("flow-bank-leaking"), ordinary_state(machine()))
    assert pair is not None
    swapped = next(each for each in causes_of(machine()) if each.state.made)
    found = cover_table(machine(), causes=[*chosen, pair, swapped])
    unsolved = Unsolved(cause("dial-off"), "nothing balanced")
    return CoverTable(found.circuit, found.digest, found.causes, found.rows, (unsolved,))


def through_json(data):
    return json.loads(json.dumps(data, allow_nan=False))


def test_a_table_comes_back_equal(table):
    assert len(table.rows) > 8
    assert table_from_dict(through_json(table_to_dict(table))) == table


def test_an_empty_table_comes_back_equal():
    empty = CoverTable("No machine", "0" * 64, 0, ())
    assert table_from_dict(through_json(table_to_dict(empty))) == empty


def test_a_state_is_written_as_what_differs(table):
    data = table_to_dict(table)
    assert len(json.dumps(data["causes"])) < len(data["causes"]) * len(json.dumps(data["base"]))


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda data: {**data, "format": 99}, "format 99"),
        (lambda data: [data], "format 'list'"),
        (lambda data: {**data, "causes": []}, "damaged"),
        (lambda data: {key: value for key, value in data.items() if key != "rows"}, "damaged"),
        (lambda data: {**data, "rows": [{**data["rows"][0], "status": "perhaps"}]}, "damaged"),
    ],
)
def test_anything_else_is_refused(table, spoil, words):
    with pytest.raises(TableFormatError, match=words):
        table_from_dict(spoil(table_to_dict(table)))


def test_closing_sets_come_back_equal(table):
    sets = closing_sets(machine(), table)
    assert sets
    assert closing_from_dict(through_json(closing_to_dict(sets))) == sets
    with pytest.raises(TableFormatError, match="damaged"):
        closing_from_dict({"sets": [{}]})
