"""Every picture has its table, says what to do where there is nothing, and is the same on paper."""

import io
from collections import Counter
from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pypdf import PdfReader

from fleet.actions import record_feature_state, retire_machine
from fleet.drawing.columns import Column, columns_over_time, describe_columns
from fleet.drawing.grid import Cell, GridRow, describe_grid, grid
from fleet.models import Evidence, Machine, MachineModel, State
from inspections.actions import book_inspection, report_fault
from inspections.models import Procedure
from inspections.pictures.of_fleet import age_by_model, features_over_the_years, findings_by_code_over_time
from inspections.pictures.of_work import areas_against_minimum
from inspections.planning.failure_codes import CODES
from tests.drawing_reader import texts as drawing_texts
from tests.factories import (
    NOON,
    TODAY,
    load_all_procedures,
    make_area,
    make_inspection,
    make_machine,
    make_model,
    make_person,
    make_site,
)
from tests.inspections.exposure_rows import make_exposure

pytestmark = pytest.mark.django_db


@pytest.fixture
def area():
    return make_area(make_site(), minimum_machines=2, name="Theatre 1")


@pytest.fixture
def person(client):
    person = make_person("planner")
    client.force_login(person)
    return person


def test_the_page_shows_every_picture_or_what_to_do(client, person):
    page = client.get(reverse("inspections:pictures")).content.decode()
    for words in ("No technician has working hours", "No due date was over", "No area has a minimum",
                  "No finding was opened", "No safety feature is recorded", "No machine is in the register",
                  "has not been computed yet"):  # fmt: skip
        assert words in page


def fill(area, number=3):
    model = make_model(features={"o2-analyser": "fitted"})
    MachineModel.objects.filter(pk=model.pk).update(parts_until=date(2028, 6, 30))
    by = make_person("technician")
    for n in range(number):
        machine = make_machine(model=model, area=area, built_year=2010 + n)
        make_inspection(machine, due_on=TODAY - timedelta(days=40))
        report_fault(machine, title=f"Sticks {n}", severity="other", by=by, at=NOON)
    make_exposure(area.site, None, by)
    return model


def test_page_and_paper_show_the_same_pictures(client, person, area):
    load_all_procedures()
    fill(area)
    site = {"site": area.site.pk}
    found = client.get(reverse("inspections:pictures"), site).context["pictures"]
    assert [each.code for each in found if not each.rows] == ["weeks"]
    paper = client.get(reverse("inspections:pictures_pdf"), site)
    words = "".join(page.extract_text() for page in PdfReader(io.BytesIO(paper.content)).pages)
    for each in found:
        assert each.title in words


def test_the_number_of_queries_does_not_grow_with_the_machines(client, person, area):
    load_all_procedures()

    def queries():
        with CaptureQueriesContext(connection) as found:
            assert client.get(reverse("inspections:pictures")).status_code == 200
        return len(found)

    fill(area)
    few = queries()
    fill(area, 6)
    assert queries() == few


def cells(picture, words):
    return next(row for row in picture.rows if str(row[0]) == words)


def test_a_feature_counts_in_the_years_in_which_it_was_fitted_on_the_machines_then_there():
    first, second = (make_machine(in_use_from=date(year, 2, 1)) for year in (2023, 2025))
    by = make_person("planner")
    state = {"evidence": Evidence.SEEN, "by": by, "at": NOON}
    record_feature_state(first, "o2-analyser", State.FITTED, from_date=date(2024, 5, 1), **state)
    record_feature_state(second, "o2-analyser", State.FITTED, from_date=date(2025, 3, 1), **state)
    record_feature_state(second, "o2-analyser", State.NOT_FITTED, from_date=date(2026, 1, 1), **state)
    picture = features_over_the_years(Machine.objects.all(), TODAY)
    assert picture.header == ("Safety feature", "2023", "2024", "2025", "today")
    # of one machine 0 and 1, of two both, then one of two
    assert cells(picture, "Oxygen analyser with alarm")[1:] == ("0", "100", "100", "50")
    retire_machine(first, reason="Old", by=by, at=NOON)
    picture = features_over_the_years(Machine.objects.all(), TODAY)
    assert cells(picture, "Oxygen analyser with alarm")[1:] == ("0", "100", "100", "0")


def test_age_is_by_model_and_year_and_marks_the_end_of_support(area):
    model = fill(area)
    make_machine(model=model, area=area, built_year=None)
    picture = age_by_model(Machine.objects.all(), TODAY)
    assert picture.rows == [(model, 4, 2010, 2012, 1, "2028-06-30")]
    texts = drawing_texts(picture.draw(900, 12))
    assert {"2010", "2028"} <= set(texts) or "2010" in texts


def test_findings_are_counted_by_month_and_code(area):
    by, machine = make_person("technician"), make_machine(area=area)
    code = next(iter(CODES))
    for fields in ({"code": code, "found_how": "inspection"}, {}):
        report_fault(machine, title="Sticks", severity="other", by=by, at=NOON, **fields)
    picture = findings_by_code_over_time(Machine.objects.all(), date(2026, 1, 1), TODAY)
    rows = {row[0]: Counter(dict(zip(picture.header[2:], row[2:], strict=True))) for row in picture.rows}
    assert rows[CODES[code].title]["2026-11"] == 1 and rows["Without a code"]["2026-11"] == 1
    assert sum(rows["Without a code"].values()) == 1


def test_an_area_is_left_with_the_fewest_machines_of_the_week(area):
    load_all_procedures()
    technician = make_person("technician")
    machines = [make_machine(area=area) for _ in range(3)]
    yearly = Procedure.objects.get(code="yearly")
    for machine, day in zip(machines, (TODAY, TODAY, TODAY + timedelta(days=7)), strict=True):
        inspection = make_inspection(machine, yearly, due_on=TODAY)
        book_inspection(inspection, technician=technician, booked_on=day, by=technician, at=NOON)
    picture = areas_against_minimum(type(area).objects.all(), TODAY)
    # three in service, at least two: two away on one day leave one in the first week
    assert picture.rows == [(f"Theatre 1, {area.site.name}", 3, 2, 1, 1)]
    assert "1!" in drawing_texts(picture.draw(900, 12))


def test_a_grid_says_its_numbers_in_words_and_marks_alarms_without_colour():
    rows = [GridRow("Valve", (Cell("3", 0.5), Cell("1", 0.2, True)), mark=1.5)]
    assert describe_grid(["2025", "2026"], rows) == "Valve: 2025 3, 2026 1 (!)."
    assert "1!" in drawing_texts(grid(["2025", "2026"], rows, width=500))


def test_columns_name_their_parts():
    columns = [Column("Mar", 3, 4, "75 %")]
    assert "75 %" in drawing_texts(columns_over_time(columns, part="on time", rest="missed"))
    assert describe_columns(columns, part="on time", rest="missed") == "on time and missed. Mar: 3 of 4 (75 %)."


def test_a_wrong_filter_is_refused_with_a_sentence(client, person):
    response = client.get(reverse("inspections:pictures"), {"since": "2026-13-01"})
    assert response.status_code == 400
