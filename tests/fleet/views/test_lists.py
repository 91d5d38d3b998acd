"""Every list filters, sorts, turns pages, answers htmx and writes files in the same way."""

import csv
import io
from datetime import date, datetime, timedelta

import pytest
from django.contrib.auth.models import Permission
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import resolve, reverse
from django.utils import timezone
from django_tables2 import Table
from openpyxl import load_workbook

from config.groups import GROUPS
from fleet.actions import request_job
from fleet.jobs import Result, job_kind
from fleet.tables.files import plain
from fleet.views.lists import TableList
from inspections.actions import issue_label, record_attempt, report_fault, report_from_label, set_component_life
from inspections.models import Procedure
from tests.factories import (
    NOON,
    load_all_procedures,
    make_area,
    make_away,
    make_component,
    make_forecast,
    make_inspection,
    make_instrument,
    make_machine,
    make_person,
    make_signed_inspection,
    make_site,
    make_token,
    make_value_meaning,
)
from tests.fleet.altering.rows import make_alteration
from tests.inspections.notices.scenes import make_notice
from tests.matrix.addresses import all_addresses

LISTS = (
    "fleet:machines", "fleet:models", "fleet:instruments", "fleet:people", "fleet:api_tokens", "fleet:own_tokens",
    "fleet:jobs", "inspections:work", "inspections:findings", "inspections:review", "inspections:fault_reports",
    "inspections:trends", "inspections:notices", "fleet:component_list", "inspections:attempted",
    "inspections:due_dates", "inspections:parts_due", "fleet:purge_times", "fleet:value_meanings",
    "fleet:away_machines", "fleet:alterations",
)  # fmt: skip
FORMATS = ("csv", "xlsx")
WHICH = {"inspections:work": {"view": "due"}}
HTMX = {"HX-Request": "true"}


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
    area, yearly = make_area(make_site()), Procedure.objects.get(code="yearly")
    life = {"source": "policy", "reference": "Manual, page 2", "reason": "Drift", "from_date": timezone.localdate()}
    set_component_life(kind="oxygen-analyser", life=1, unit="months", by=person, at=timezone.now(), **life)
    for n in range(number):
        machine = make_machine(area=area)
        make_forecast(make_signed_inspection(machine, yearly, by=person).steps.get().results.get())
        make_inspection(machine, yearly, due_on=timezone.localdate() + timedelta(days=n % 20))
        missed = make_inspection(machine, yearly, due_on=timezone.localdate() - timedelta(days=100 + n))
        for kind in ("in use", "not located"):
            record_attempt(missed, kind=kind, reason=f"-List {n}", by=person, at=timezone.now())
        report_fault(machine, title=f"-Flush {n} sticks", severity="other", by=person, at=NOON)
        make_instrument(site=area.site)
        make_component(machine, kind="oxygen-analyser", label=f"-Cell {n}", serial=f"-{n}")
        make_token(person, "technician", name=f"Program of {machine}")
        make_person("technician")
        label = issue_label(machine, by=person, at=NOON)
        report_from_label(label, key=str(n), what=f"-Whistles {n}", where="Theatre", who="Nurse", at=NOON)
        make_component(machine, lot=f"R-{n}")
        make_away(machine, to_whom=f"-Ward {n}")
        make_notice(person, reference=f"FSN-{machine}")
        make_value_meaning(area.site, person, written=f"-th {machine}")
        make_alteration(machine, by=person, title=f"-Valve {n}")
        request_job("count", title=f"Count {machine}", params={"n": n}, by=person, at=NOON)


def ask(client, name, headers=None, **query):
    return client.get(reverse(name), {**WHICH.get(name, {}), **query}, headers=headers or {})


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


def test_htmx_gets_the_table_alone_and_going_back_the_whole_page(client, person):
    fill(person, 1)
    for name in LISTS:
        whole, part = ask(client, name), ask(client, name, HTMX)
        back = ask(client, name, {**HTMX, "HX-History-Restore-Request": "true"})
        assert [b"<html" in each.content for each in (whole, part, back)] == [True, False, True], name
        assert all("HX-Request" in each["Vary"] for each in (whole, part, back)), name
        assert b"<table" in part.content, name


def test_a_file_holds_every_row_that_the_filter_leaves_in_the_order_asked_for(client, person):
    fill(person, 12)
    for name in LISTS:
        table = table_of(ask(client, name, per_page=10))
        column = next(column.name for column in table.columns if column.orderable)
        number = table.paginator.count
        assert number >= 12 > len(table.page.object_list), name
        written = {fmt: rows_of(ask(client, name, sort=f"-{column}", export=fmt), fmt) for fmt in FORMATS}
        assert {fmt: len(rows) for fmt, rows in written.items()} == {fmt: number + 1 for fmt in FORMATS}, name
        as_text = [["" if cell is None else _text(cell) for cell in row] for row in written["xlsx"]]
        assert as_text == written["csv"], name
        cells = [cell for row in written["csv"][1:] for cell in row]
        assert not any(cell.startswith(("=", "-", "—")) or "<" in cell for cell in cells), name
        up = rows_of(ask(client, name, sort=column, export="csv"), "csv")
        is_all_alike = len({row[0] for row in up[1:]}) == 1
        assert sorted(up) == sorted(written["csv"]) and (is_all_alike or up != written["csv"]), name


def _text(cell):
    if isinstance(cell, datetime):
        return cell.date().isoformat()
    if isinstance(cell, float) and cell.is_integer():
        return str(int(cell))
    return str(cell)


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


def test_a_list_asks_as_many_queries_for_many_rows_as_for_few(client, person):
    def queries(name, fmt):
        with CaptureQueriesContext(connection) as asked:
            response = ask(client, name, export=fmt)
            b"".join(response.streaming_content) if response.streaming else response.content
        return len(asked)

    def all_queries():
        return {(name, fmt): queries(name, fmt) for name in LISTS for fmt in ("", *FORMATS)}

    fill(person, 2)
    all_queries()
    few = all_queries()
    fill(person, 9)
    assert all_queries() == few


def test_a_file_of_the_register_is_for_those_who_may_export_it(db):
    client, reader = Client(), make_person()
    reader.user_permissions.set(Permission.objects.filter(codename__in=("view_machine", "view_review")))
    client.force_login(reader)
    for name in ("fleet:machines", "inspections:review"):
        page = ask(client, name)
        assert (page.status_code, "export=" in page.text, "register.csv" in page.text) == (200, False, False)
        assert [ask(client, name, export=fmt).status_code for fmt in FORMATS] == [403, 403]


@pytest.mark.parametrize("cell", [12, 0.5, date(2026, 11, 2), "12", "", None, "—", "<b>"])
def test_a_cell_keeps_its_kind(cell):
    assert plain(cell) == ("" if cell in (None, "—") else cell)
