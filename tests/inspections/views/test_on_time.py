"""The on-time figure on its page: every number opens into its list, and the file is enough to compute it again."""

import csv
import io
import re
from datetime import timedelta
from html import unescape

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from fleet.actions import move_machine
from inspections.actions import record_attempt, void_inspection
from inspections.forms.on_time import ANSWERS
from inspections.kept.due_dates import DUE_DATES
from inspections.kept.keeping import holds
from inspections.models import KeptRules, Procedure
from inspections.schedule.on_time_figures import DIMENSIONS
from inspections.tables.due_dates import DueDateTable
from tests.factories import (
    load_all_procedures,
    make_area,
    make_inspection,
    make_machine,
    make_person,
    make_signed_inspection,
    make_site,
)

LINK = re.compile(r'<a href="([^"]+)">(\d+)</a>')


@pytest.fixture
def client(db):
    client = Client()
    client.force_login(make_person("manager"))
    return client


@pytest.fixture
def department(db):
    """At two sites: two on time, one late, one not signed that was attempted, one voided."""
    load_all_procedures()
    yearly, by, today = Procedure.objects.get(code="yearly"), make_person("technician"), timezone.localdate()
    areas = [make_area(make_site()) for _ in range(2)]

    def due(days):
        return today - timedelta(days=days)

    for number, days in enumerate((60, 100, 150)):
        late = 40 if number == 2 else 0
        at = timezone.now() - timedelta(days=days - late)
        make_signed_inspection(make_machine(area=areas[number % 2]), yearly, by=by, due_on=due(days), at=at)
    missed = make_inspection(make_machine(area=areas[0]), yearly, by=by, due_on=due(80), at=timezone.now())
    record_attempt(missed, kind="in use", by=by, at=timezone.now() - timedelta(days=70))
    void = make_inspection(make_machine(area=areas[1]), yearly, by=by, due_on=due(90), at=timezone.now())
    void_inspection(void, reason="Away", by=by, at=timezone.now())


def rows_of(response):
    return list(csv.DictReader(io.StringIO(b"".join(response.streaming_content).decode("utf-8-sig"))))


@pytest.mark.parametrize("is_kept", [True, False])
@pytest.mark.parametrize("by", DIMENSIONS)
def test_every_number_opens_into_a_list_of_as_many(client, department, by, is_kept, monkeypatch):
    """The list judges each due date; the figure counts kept rows where they hold."""
    assert holds(DUE_DATES)
    if not is_kept:
        monkeypatch.setattr("inspections.kept.due_dates.holds", lambda kind: False)
    page = client.get(reverse("inspections:on_time"), {"by": by})
    assert page.context["figure"].percent == 40
    links = [(unescape(url), int(number)) for url, number in LINK.findall(page.text)]
    assert len(links) >= 6
    for url, number in links:
        assert client.get(url).context["table"].paginator.count == number, url


def test_the_answers_open_into_their_lists(client, department):
    page = client.get(reverse("inspections:on_time"))
    for answer, _, number in page.context["figure"].by_answer:
        table = client.get(f"{page.context['rows_url']}&answer={answer}").context["table"]
        assert table.paginator.count == number
    assert client.get(f"{page.context['rows_url']}&answer=excused&excuse=in use").context["table"].paginator.count == 1


def test_anybody_computes_the_figure_again_from_the_file(client, department):
    """From the days alone, by what the page says, and from the columns that say how each row counts."""
    rows = rows_of(client.get(reverse("inspections:due_dates"), {"export": "csv"}))
    by_days = [row["Signed"] != "" and row["Signed"] <= row["Last day"] for row in rows]
    assert (sum(by_days), len(by_days)) == (2, 5)
    assert (sum(int(row["On time"]) for row in rows), sum(int(row["Counted"]) for row in rows)) == (2, 5)
    assert [row["Last attempt"] for row in rows if row["Last attempt"]] == ["In use"]
    assert {row["Answer"] for row in rows} == {"On time", "Signed late", "Not signed", "Voided"}


def test_a_period_is_narrowed_and_one_that_ends_before_it_begins_is_refused(client, department):
    today = timezone.localdate()
    asked = {"since": (today - timedelta(days=70)).isoformat(), "until": today.isoformat()}
    assert client.get(reverse("inspections:on_time"), asked).context["figure"].counted == 3
    turned = {"since": asked["until"], "until": asked["since"]}
    assert client.get(reverse("inspections:on_time"), turned).status_code == 400


@pytest.mark.parametrize(("by", "most"), [("month", 9), ("area", 10), ("class", 9)])  # one: whether kept rows hold
def test_the_queries_of_the_page_do_not_grow(client, department, django_assert_max_num_queries, by, most):
    with django_assert_max_num_queries(most + 2):
        client.get(reverse("inspections:on_time"), {"by": by})


def test_the_definition_is_on_both_pages(client, db):
    for name in ("on_time", "due_dates"):
        assert "How it is counted" in client.get(reverse(f"inspections:{name}")).text


def test_work_of_other_sites_does_not_count(department):
    client = Client()
    client.force_login(make_person("planner", sites=[make_site()]))
    assert client.get(reverse("inspections:on_time")).context["figure"].counted == 0


def test_the_list_narrows_by_and_shows_the_area_of_the_last_day(client):
    load_all_procedures()
    today, now = timezone.localdate(), timezone.now()
    yearly = Procedure.objects.get(code="yearly")
    areas = make_area(name="Alder"), make_area(name="Cedar")
    machine = make_machine(area=areas[0])
    missed = make_inspection(machine, procedure=yearly, due_on=today - timedelta(days=100))
    move_machine(machine, area=areas[1], on=missed.closes_on + timedelta(days=1), evidence="Order", by=None, at=now)
    for area, found in ((areas[0], ["Alder"]), (areas[1], [])):
        rows = rows_of(client.get(reverse("inspections:due_dates"), {"export": "csv", "area": area.pk}))
        assert [row["Area"] for row in rows] == found
        assert client.get(reverse("inspections:on_time"), {"area": area.pk}).context["figure"].missed == len(found)


def test_the_list_shows_the_same_due_dates_whether_they_are_kept_or_judged(client, department):
    """In every order and by every answer; without kept ones, such as after an update, it judges them itself."""
    url, sorts = reverse("inspections:due_dates"), [name for name, one in DueDateTable.base_columns.items()]
    asked = [
        {"sort": f"{sign}{name}"} for name in sorts if DueDateTable.base_columns[name].orderable for sign in ("", "-")
    ]
    asked += [{"answer": answer} for answer, _ in ANSWERS] + [{"excuse": "in use"}, {"q": "M-"}, {"q": "none"}]
    assert holds(DUE_DATES)
    kept = [shown_rows(client.get(url, one)) for one in asked]
    KeptRules.objects.filter(kind=DUE_DATES.name).update(rules="others")
    assert not holds(DUE_DATES)
    assert [shown_rows(client.get(url, one)) for one in asked] == kept
    assert len(kept[0]) == 5 and kept[-1] == [] and len({len(rows) for rows in kept}) > 3


def shown_rows(response):
    """Return what the table of a page shows in each row."""
    assert response.status_code == 200
    table = response.context["table"]
    return [[re.sub("<[^>]*>", " ", str(cell)) for _, cell in row.items()] for row in table.page.object_list]
