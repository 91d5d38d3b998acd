"""Rows of a module are there for each of its tests as they were made, whatever the tests before did."""

import pytest
from django.db import connection

from fleet.models import JournalEntry, Machine
from inspections.chain.verification import verify_store
from tests.factories import make_machine
from tests.services.rows_of_module import rows_of_module


def is_kept_from_it():
    try:
        connection.cursor()
    except RuntimeError as error:
        return "Database access not allowed" in str(error)
    return False


@pytest.fixture(scope="module")
def was_kept_from_it():
    """A server that serves the whole run, begun by an earlier module, may have let every test in."""
    return is_kept_from_it()


@pytest.fixture(scope="module")
def made(request, was_kept_from_it):
    with rows_of_module(request, lambda: [make_machine(asset_number="M-1")]) as copy:
        yield copy


@pytest.fixture
def machine(db, made):
    return made()[0]


@pytest.mark.parametrize("time", ["once", "again"])
def test_what_a_test_writes_or_removes_is_there_for_the_next(machine, time):
    assert list(Machine.objects.values_list("asset_number", "serial")) == [("M-1", "")]
    Machine.objects.filter(pk=machine.pk).update(serial="S-1")
    machine.serial = "S-1"
    make_machine()


@pytest.mark.parametrize("time", ["once", "again"])
def test_what_a_test_does_to_its_copy_stays_with_it(machine, time):
    assert machine.serial == ""
    machine.serial = "S-1"


@pytest.mark.real_journal
def test_the_rows_are_journaled_and_no_scope_is_left_open(machine):
    assert JournalEntry.objects.filter(table="fleet_machine", row=machine.pk).count() == 1
    assert list(verify_store()) == []


def test_a_test_without_a_database_fixture_is_as_far_from_it_as_before(made, was_kept_from_it):
    assert is_kept_from_it() == was_kept_from_it
