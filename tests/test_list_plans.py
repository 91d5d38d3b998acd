"""The two longest lists and Home on either database: which large tables their statements read from end to end.

What SQLite does in each of them, and by which index, is told apart in test_machine_plans.py and test_work_plans.py.
"""

from datetime import timedelta

import pytest
import time_machine

from fleet.models import Machine
from fleet.tables.machines import MachineTable
from inspections.models import Inspection, Procedure
from inspections.tables.work import InspectionTable, SignedTable
from tests.factories import NOON, TODAY, load_all_procedures, make_area, make_inspection, make_machine, make_person
from tests.query_plans import asked, tables_read_whole

pytestmark = pytest.mark.renewed_at_once
# By page, the tables that may be read whole, with the reason.
NAMED = {
    "machines": {
        "fleet_currentstate": "in the order of a column up to the page, counted or searched within an index",
        "fleet_machine": "the year of manufacture is in its row; PostgreSQL joins a page with so small a table",
    },
    "work": {
        "fleet_currentstate": "a search reads the text of each machine, once, within an index",
        "fleet_awayperiod": "the few machines that are away, within an index of these alone",
        "fleet_machine": "in the order of asset numbers up to the page",
        "inspections_completion": "the incomplete ones, within an index of these alone",
        "inspections_inspection": "a name is not in the order of any index",
    },
    "home": {
        "fleet_awayperiod": "the few machines that are away, within an index of these alone",
        "fleet_machine": "counted within an index for the steps of a first day, until these are put away",
        "inspections_inspectionstep": "the few with a later set of readings, within an index of these alone",
    },
}


def sorts(table):
    names = [name for name, one in table.base_columns.items() if one.orderable is not False]
    return [f"sort={sign}{name}" for name in names for sign in ("", "-")]


def machine_pages(machine):
    filters = (f"area={machine.area_id}", f"model={machine.model_id}", "status=any", f"q={machine}", "q=none")
    return [f"/machines/?{query}" for query in ("", *filters, *sorts(MachineTable))]


ORDERED = {"due": sorts(InspectionTable), "signed": sorts(SignedTable), "incomplete": sorts(SignedTable)}


def work_pages(machine):
    filters = (f"site={machine.area.site_id}", f"area={machine.area_id}", f"q={machine}", "q=none")
    for view in ("due", "overdue", "booked", "bench", "countersign", "incomplete", "signed", "void"):
        ordered = ORDERED.get(view, ())
        yield from (f"/inspections/?view={view}&{query}" for query in ("", *filters, *ordered))


PAGES = {"machines": machine_pages, "work": work_pages, "home": lambda machine: ["/"]}


@pytest.fixture
def machine(db):
    load_all_procedures()
    area, yearly = make_area(minimum_machines=1), Procedure.objects.get(code="yearly")
    machines = [make_machine(area=area) for _ in range(21)]
    for one in machines:
        make_inspection(one, yearly, due_on=TODAY + timedelta(days=5))
    return machines[0]


# After thousands of tests PostgreSQL's tables have sizes that choose between two indexes: there this is asked of a new
# database alone, by `python -m tests.services.with_postgresql pytest tests/test_list_plans.py`.
@pytest.mark.same_on_both
@pytest.mark.parametrize("page", PAGES)
def test_no_statement_reads_a_large_table_whole_unsaid(client, machine, page):
    client.force_login(make_person("planner"))
    with time_machine.travel(NOON, tick=False):
        found = {address: tables_read_whole(asked(client, address)) for address in PAGES[page](machine)}
    assert {
        address: tables - NAMED[page].keys() for address, tables in found.items() if tables - NAMED[page].keys()
    } == {}


def test_a_read_of_a_whole_table_is_seen(machine):
    whole = [Machine.objects.filter(note="x").order_by(), Inspection.objects.order_by("void_reason")[:10]]
    found = [tables_read_whole(dict([rows.query.sql_with_params()])) for rows in whole]
    assert found == [{"fleet_machine"}, {"inspections_inspection"}]
    by_index = Inspection.objects.filter(pk__in=[1, 2]).order_by()
    assert tables_read_whole(dict([by_index.query.sql_with_params()])) == set()
