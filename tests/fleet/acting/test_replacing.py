"""Rows are written as they are, new ones and those that stand there already."""

from datetime import date

import pytest

from fleet.acting.replacing import write_by_key
from fleet.models import CurrentState
from tests.factories import make_machine

pytestmark = pytest.mark.renewed_at_once


def test_a_row_is_inserted_and_then_replaced(db):
    machine = make_machine()
    row = CurrentState.objects.get(pk=machine.pk)
    CurrentState.objects.all().delete()
    write_by_key([row], "default")
    assert CurrentState.objects.get().holds_from == row.holds_from
    row.next_due_on, row.is_away, row.status = date(2031, 2, 3), True, "withdrawn"
    write_by_key([row], "default")
    stored = CurrentState.objects.get()
    assert (stored.next_due_on, stored.is_away, stored.status) == (date(2031, 2, 3), True, "withdrawn")


def test_no_rows_are_no_statement(db, django_assert_num_queries):
    with django_assert_num_queries(0):
        write_by_key([], "default")
