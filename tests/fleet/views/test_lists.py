"""Every list filters, sorts, turns pages, answers htmx and writes files in the same way."""

import csv
import io
from datetime import date, datetime, timedelta

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import resolve, reverse
from django_tables2 import Table
from openpyxl import load_workbook

from config.groups import GROUPS
from fleet.actions import request_job
from fleet.jobs import Result, job_kind
from fleet.models import Site
from fleet.tables.files import plain
from fleet.views.lists import TableList
from inspections.actions import report_fault
from inspections.models import Procedure
from tests.factories import (
    NOON,
    TODAY,
    load_all_procedures,
    make_area,
    make_inspection,
    make_instrument,
    make_machine,
    make_person,
    make_site,
    make_token,
)
from tests.matrix.addresses import all_addresses

LISTS = (
    "fleet:machines", "fleet:models", "fleet:instruments", "fleet:people", "fleet:api_tokens", "fleet:own_tokens",
    "fleet:jobs", "inspections:work", "inspections:findings", "inspections:review",
)  # fmt: skip
FORMATS = ("csv", "xlsx")


@pytest.fixture
def person(db, monkeypatch):
    load_all_procedures()
    monkeypatch.setattr("fleet.jobs.kinds._kinds", {})
    job_kind("count", "Counting", permission="fleet.view_machine")(lambda run: Result("Counted."))
    return make_person(*GROUPS)


@pytest.fixture
def client(person):
    client = Client()
    client.force_login(person)
    return client


def fill(person, number):
    """Add rows to every list."""
    area, yearly = make_area(make_site(name="=Larkmoor")), Procedure.objects.get(code="yearly")
    for n in range(number):
        machine = make_machine(area=area)
        make_inspection(machine, yearly, due_on=TODAY + timedelta(days=n % 20))
        report_fault(machine, title=f"-Flush {n} sticks", severity="other", by=person, at=NOON)
        make_instrument(site=area.site)
        make_token(person, "technician", name=f"Program {n}")
        make_person("technician")
        request_job("count", title=f"Count {machine}", params={"n": n}, by=person, at=NOON)


def table_of(response):
    return response.context["table"]


def rows_of(response, fmt):
    """The rows of a file, the header first, as a person would read them."""
    if fmt == "csv":
        text = b"".join(response.streaming_content).decode("utf-8-sig")
        return list(csv.reader(io.StringIO(text)))
    sheet = load_workbook(io.BytesIO(response.content)).active
    return [[cell.value for cell in row] for row in sheet.rows]


@pytest.mark.django_db
def test_every_page_with_a_table_is_such_a_list(client, person):
    found = set()
    for address in all_addresses():
        if address.is_api or "<" in address.route or address.name == "logout":
            continue
        response = client.get(reverse(address.name))
        if response.context and isinstance(response.context.get("table"), Table):
            found.add(address.name)
            assert issubclass(resolve(reverse(address.name)).func.view_class, TableList), address.name
    assert found == set(LISTS)


@pytest.mark.parametrize("name", LISTS)
def test_htmx_gets_the_table_alone_and_going_back_the_whole_page(client, person, name):
    fill(person, 1)
    url, htmx = reverse(name), {"HX-Request": "true"}
    whole, part = client.get(url), client.get(url, headers=htmx)
    back = client.get(url, headers={**htmx, "HX-History-Restore-Request": "true"})
    assert [b"<html" in each.content for each in (whole, part, back)] == [True, False, True]
    assert all("HX-Request" in each["Vary"] for each in (whole, part, back))
    assert b"<table" in part.content


@pytest.mark.parametrize("name", LISTS)
def test_a_file_holds_every_row_that_the_filter_leaves_in_the_order_asked_for(client, person, name):
    fill(person, 45)
    url = reverse(name)
    table = table_of(client.get(url))
    column = next(column.name for column in table.columns if column.orderable)
    number = table.paginator.count
    assert number >= 45 > len(table.page.object_list)
    query = {"sort": f"-{column}"}
    written = {fmt: rows_of(client.get(url, {**query, "export": fmt}), fmt) for fmt in FORMATS}
    assert {fmt: len(rows) for fmt, rows in written.items()} == {fmt: number + 1 for fmt in FORMATS}
    as_text = [["" if cell is None else _text(cell) for cell in row] for row in written["xlsx"]]
    assert as_text == written["csv"]
    assert len({len(row) for row in written["csv"]}) == 1
    assert not any(cell.startswith(("=", "-Flush", "—")) or "<" in cell for row in written["csv"][1:] for cell in row)
    up = rows_of(client.get(url, {"sort": column, "export": "csv"}), "csv")
    assert sorted(up) == sorted(written["csv"]) and (up != written["csv"] or _all_equal(up))


def _text(cell):
    if isinstance(cell, datetime):
        return cell.date().isoformat()
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    return str(cell)


def _all_equal(rows):
    return len({tuple(row) for row in rows[1:]}) == 1


@pytest.mark.parametrize(
    ("name", "query"),
    [
        ("fleet:machines", {"q": "M-"}), ("fleet:instruments", {"calibration": "out"}),
        ("fleet:people", {"group": "Nobody"}), ("inspections:work", {"view": "due", "days": "30", "q": "M-"}),
        ("inspections:findings", {"severity": "essential"}), ("inspections:review", {"conclusion": "keep"}),
    ],
)  # fmt: skip
def test_page_and_file_are_narrowed_alike(client, person, name, query):
    fill(person, 3)
    report_fault(make_machine(), title="Leaks", severity="essential", by=person, at=NOON)
    if name == "fleet:people":
        query = {"group": person.groups.get(name="auditor").pk}
    shown = table_of(client.get(reverse(name), query)).paginator.count
    assert len(rows_of(client.get(reverse(name), {**query, "export": "csv"}), "csv")) == shown + 1


@pytest.mark.parametrize("name", LISTS)
def test_a_list_asks_as_many_queries_for_thirty_rows_as_for_three(client, person, name):
    def queries(**query):
        with CaptureQueriesContext(connection) as asked:
            response = client.get(reverse(name), query)
            b"".join(response.streaming_content) if response.streaming else response.content
        return len(asked)

    fill(person, 3)
    queries()
    few = [queries(), *(queries(export=fmt) for fmt in FORMATS)]
    fill(person, 24)
    assert [queries(), *(queries(export=fmt) for fmt in FORMATS)] == few


def test_a_file_of_the_register_is_for_those_who_may_export_it(db):
    client = Client()
    client.force_login(make_person("technician", sites=Site.objects.all()))
    for name in ("fleet:machines", "inspections:review"):
        page = client.get(reverse(name))
        if page.status_code == 200:
            assert "export=" not in page.text
        assert client.get(reverse(name), {"export": "csv"}).status_code == 403


@pytest.mark.parametrize("cell", [12, 0.5, date(2026, 11, 2), "12", "", None, "—", "<b>"])
def test_a_cell_keeps_its_kind(cell):
    assert plain(cell) == ("" if cell in (None, "—") else cell)
