"""No query of the list of work reads a large table from end to end, but for those that are named with their reason."""

from datetime import timedelta

import pytest
import time_machine

from inspections.actions import book_inspection, void_inspection
from inspections.models import Inspection, Procedure
from inspections.tables.work import InspectionTable
from inspections.views.work import TABLES
from tests.factories import (
    NOON,
    TODAY,
    load_all_procedures,
    make_area,
    make_inspection,
    make_machine,
    make_person,
    make_signed_inspection,
)
from tests.query_plans import asked, whole_reads

pytestmark = pytest.mark.same_on_both  # the plans of SQLite; other tests ask PostgreSQL for the same pages
URL = "/inspections/"
SORTED = ("due", "signed", "incomplete", "void")  # one heading for each table
INCOMPLETE = ("inspections_completion", "an index", "count")
WHOLE = {
    INCOMPLETE: "the incomplete ones, within the index of these alone",
    ("inspections_completion", "completion_incomplete", "walk"): "the same, each asked whether its machine is there",
    (
        "fleet_currentstate",
        "current_searched",
        "walk",
    ): "a search reads the text of each machine, once, within the index",
    ("inspections_inspection", "inspection_to_countersign", "walk"): "by stage, in the order of the index",
    ("inspections_inspection", "an index", "sort"): "a name is not in the order of any index",
}


@pytest.fixture(autouse=True)
def at_noon():
    with time_machine.travel(NOON, tick=False):
        yield


@pytest.fixture
def inspection(db):
    load_all_procedures()
    yearly, area = Procedure.objects.get(code="yearly"), make_area(minimum_machines=1)
    due = [make_inspection(make_machine(area=area), yearly, due_on=TODAY + timedelta(days=5)) for _ in range(22)]
    make_signed_inspection(procedure=yearly, by=make_person("technician"))
    void_inspection(due[1], reason="Machine away", by=None, at=NOON)
    book_inspection(due[0], technician=make_person("technician"), booked_on=TODAY, by=None, at=NOON)
    return Inspection.objects.select_related("machine__area").get(pk=due[0].pk)


def queries(inspection, view):
    area = inspection.machine.area
    columns = TABLES.get(view, InspectionTable).base_columns if view in SORTED else {}
    sorts = [f"sort={sign}{name}" for name, one in columns.items() if one.orderable is not False for sign in ("", "-")]
    filters = [
        f"site={area.site_id}", f"area={area.pk}", f"procedure={inspection.procedure_id}",
        f"technician={inspection.technician_id}", f"q={inspection.machine}", "q=none",
    ]  # fmt: skip
    pages = ("", "&page=3") if view == "due" else ("",)
    return ["", *filters, *(f"{sort}{page}" for sort in sorts for page in pages)]


def test_no_page_of_the_list_reads_a_whole_table_unsaid(client, inspection):
    client.force_login(make_person("planner", "technician"))
    found = set()
    for view in ("mine", "due", "overdue", "booked", "bench", "countersign", "incomplete", "signed", "void"):
        found |= whole_reads(asked(client, f"{URL}?view={view}"))
        for query in queries(inspection, view):
            found |= whole_reads(asked(client, f"{URL}?per_page=10&view={view}&{query}", **{"HX-Request": "true"}))
    assert found == WHOLE.keys()
