"""No query of the list of machines reads a large table from end to end, but for those named with their reason."""

import re

import pytest
from django.apps import apps

from fleet.models import Machine
from fleet.tables.machines import MachineTable
from tests.factories import make_area, make_machine, make_model, make_person
from tests.query_plans import LARGE, asked, whole_reads
from tests.test_house import tracked

pytestmark = pytest.mark.same_on_both  # the plans of SQLite; other tests ask PostgreSQL for the same pages
URL = "/machines/"
STATES = "fleet_currentstate"
WHOLE = {
    (
        "fleet_currentstate",
        "current_searched",
        "walk",
    ): "a search reads the text of each machine, once, within the index",
    (STATES, "an index", "count"): "how many there are is counted within an index",
    (STATES, "", "count"): "features are bits, which no index finds; they are counted in the rows",
    (STATES, "an index", "sort"): "a site or a status is not in the order of any index",
    (STATES, "", "sort"): "the year of manufacture is in the row of the machine",
    (STATES, "current_by_number", "walk"): "in the order of asset numbers, up to the page",
    (STATES, "current_by_missing", "walk"): "in the order of what is missing, up to the page",
    (STATES, "current_by_most_missing", "walk"): "the same from the other end",
    (STATES, "current_by_due", "walk"): "in the order of due dates, up to the page",
    (STATES, "current_by_due_last", "walk"): "the same from the other end",
}


@pytest.fixture
def machine(db):
    area, model = make_area(), make_model(name="Mark 1")
    return [make_machine(area=area, model=model) for _ in range(21)][0]


def queries(machine):
    sorts = [f"sort={sign}{name}" for name in MachineTable.base_columns for sign in ("", "-")]
    filters = [
        f"site={machine.area.site_id}", f"area={machine.area_id}", f"model={machine.model_id}", "status=withdrawn",
        "status=any", "feature=ratio-protection&state=not+fitted", "feature=ratio-protection&state=not+known",
        f"q={machine}", "q=none",
    ]  # fmt: skip
    return ["", *filters, *(f"{sort}{page}" for sort in sorts for page in ("", "&page=3"))]


def test_no_page_of_the_list_reads_a_whole_table_unsaid(client, machine):
    client.force_login(make_person("planner"))
    found = whole_reads(asked(client, URL))
    for query in queries(machine):
        found |= whole_reads(asked(client, f"{URL}?per_page=10&{query}", **{"HX-Request": "true"}))
    assert found == WHOLE.keys()


def test_a_read_of_a_whole_table_is_seen(machine):
    """The test above would see it: a condition on a column without an index, and an order without one."""
    statements = [Machine.objects.filter(note="x").order_by(), Machine.objects.order_by("built_year")[:10]]
    found = whole_reads(dict(rows.query.sql_with_params() for rows in statements))
    assert found == {("fleet_machine", "", "count"), ("fleet_machine", "", "sort")}


def test_each_large_table_is_one_of_the_store():
    assert {model._meta.db_table for model in apps.get_models()} >= LARGE


def test_nothing_makes_statistics_by_which_sqlite_would_plan_otherwise():
    makes = re.compile(r"\bANALYZE\b|PRAGMA optimize", re.IGNORECASE)
    texts = {path: path.read_text() for path in tracked("config/**.py", "fleet/**.py", "inspections/**.py")}
    assert len(texts) > 100
    assert [str(path) for path, text in texts.items() if makes.search(text)] == []
