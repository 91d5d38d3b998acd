"""The queries that the journal costs an action; concurrent actions leave no gap."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.acting.scope import acting, outside_actions
from fleet.actions import change_area, register_machines
from fleet.actions.register import Entry
from fleet.journal.checking import Walk
from fleet.models import JournalEntry, JournalLink
from inspections.chain.verification import verify_store
from tests.factories import NOON, TODAY, make_area, make_model, make_person
from tests.inspections.actions.test_signing import in_threads

ROWS = 12


def queries_of(act):
    with CaptureQueriesContext(
        connection,
    ) as captured:
        act()
    return [one["sql"] for one in captured.captured_queries]


def of_journal(queries):
    return [sql for sql in queries if "fleet_journal" in sql]


@pytest.mark.real_journal
def test_an_action_asks_the_same_queries_for_few_and_for_many_rows(db):
    with acting("test"):
        model, area, by = make_model(features={"o2-analyser": "fitted"}), make_area(), make_person()

    def register(first, count):
        fields = {"model": model, "area": area, "in_use_from": TODAY}
        entries = [Entry({"asset_number": f"A-{first + n}", **fields}) for n in range(count)]
        return queries_of(lambda: register_machines(entries, by=by, at=NOON))

    register(50, 1)  # the first machine of an area makes the row of their number
    few, many = register(0, 1), register(100, ROWS)
    assert len(few) == len(many)
    assert len(of_journal(many)) == 4  # the entries, the lock of the head, the link, the new head


@pytest.mark.real_journal
def test_a_change_costs_nine_queries_more_than_without_the_journal(db):
    with acting("test"):
        area, by = make_area(), make_person()
    journaled = queries_of(lambda: change_area(area, minimum_machines=2, by=by, at=NOON))
    bare = queries_of(lambda: change_area.__wrapped__(area, minimum_machines=3, by=by, at=NOON))
    assert len(bare) == len(journaled)  # it records its change, which journals by itself
    assert len(of_journal(journaled)) == 5  # and the newest entries
    assert len([sql for sql in journaled if '"fleet_area"' in sql and sql.startswith("SELECT")]) == 4


def test_a_link_holds_no_more_than_a_thousand_entries(db, monkeypatch):
    monkeypatch.setattr("fleet.journal.writing.MOST_ENTRIES", 5)
    with outside_actions(), acting("test"):
        for _ in range(ROWS):
            make_area()
    newest = JournalLink.objects.last()
    assert JournalEntry.objects.filter(batch=newest.batch).count() == 4
    assert list(Walk("default").run()) == [] == list(verify_store())


@pytest.mark.django_db(transaction=True)
@pytest.mark.real_journal
def test_actions_at_the_same_moment_leave_no_gap(transactional_db):
    with acting("test"):
        areas, by = [make_area() for _ in range(4)], make_person()
    before = JournalLink.objects.count()
    in_threads(*(lambda area=area: change_area(area, minimum_machines=2, by=by, at=NOON) for area in areas))
    assert JournalLink.objects.count() == before + 4
    assert [one for one in verify_store() if one.kind != "time"] == []
