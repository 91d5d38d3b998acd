"""The list of work and booking from it."""

from datetime import timedelta

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inspections.actions import book_inspection, open_inspection, void_inspection
from inspections.models import Inspection, Procedure
from tests.factories import (
    NOON,
    TODAY,
    load_all_procedures,
    make_area,
    make_inspection,
    make_machine,
    make_person,
    make_signed_inspection,
    make_site,
)

URL, BOOK = "/inspections/", "/inspections/book/"
TABS = ("due", "overdue", "booked", "bench", "countersign", "signed", "void")


@pytest.fixture(autouse=True)
def at_noon():
    with time_machine.travel(NOON, tick=False):
        yield


@pytest.fixture
def yearly(db):
    load_all_procedures()
    return Procedure.objects.get(code="yearly")


@pytest.fixture
def planner(db):
    return make_person("planner")


@pytest.fixture
def technician(db):
    return make_person("technician")


def rows(client, person, **query):
    client.force_login(person)
    return [row.record for row in client.get(URL, query).context["table"].rows]


def due(yearly, days, **machine):
    return make_inspection(make_machine(**machine), yearly, due_on=TODAY + timedelta(days=days))


def test_each_heading_holds_its_inspections(client, planner, technician, yearly):
    ahead, late, booked, begun, gone = (due(yearly, days) for days in (20, -40, 5, 5, 5))
    book_inspection(booked, technician=technician, booked_on=TODAY, by=planner, at=NOON)
    open_inspection(begun, by=technician, at=NOON)
    void_inspection(gone, reason="Machine away", by=planner, at=NOON)
    signed = make_signed_inspection(procedure=yearly, by=technician)
    done = make_signed_inspection(procedure=yearly, by=technician)
    Inspection.objects.filter(pk=done.pk).update(stage="countersigned", countersigned_by=planner)
    found = {tab: set(rows(client, planner, view=tab)) for tab in TABS}
    assert found == {
        "due": {ahead, booked, begun},
        "overdue": {late},
        "booked": {booked},
        "bench": {begun},
        "countersign": {signed},
        "signed": {signed, done},
        "void": {gone},
    }


def test_due_looks_as_far_ahead_as_asked(client, planner, yearly):
    near, far = due(yearly, 30), due(yearly, 60)
    assert rows(client, planner, view="due") == [near]
    assert rows(client, planner, view="due", days=60) == [near, far]


def test_what_is_overdue_says_so_with_a_mark(client, planner, yearly):
    due(yearly, -40)
    client.force_login(planner)
    assert '<span class="mark mark-overdue">Overdue</span>' in client.get(URL, {"view": "overdue"}).content.decode()


def test_a_technician_comes_to_the_own_bench_first(client, technician, planner, yearly):
    own, other = due(yearly, 5), due(yearly, 5)
    book_inspection(own, technician=technician, booked_on=TODAY, by=planner, at=NOON)
    book_inspection(other, technician=make_person("technician"), booked_on=TODAY, by=planner, at=NOON)
    assert rows(client, technician) == [own]


def test_filters_narrow_by_place_procedure_technician_and_text(client, planner, technician, yearly):
    area = make_area(make_site(name="Larkmoor"), name="Obstetrics")
    there, elsewhere = due(yearly, 5, area=area, asset_number="AN-77"), due(yearly, 5)
    other = make_inspection(make_machine(area=area), Procedure.objects.get(code="half-yearly"), due_on=TODAY)
    book_inspection(elsewhere, technician=technician, booked_on=TODAY, by=planner, at=NOON)
    assert rows(client, planner, view="due", site=area.site_id, procedure=yearly.pk) == [there]
    assert set(rows(client, planner, view="due", area=area.pk)) == {there, other}
    assert rows(client, planner, view="due", technician=technician.pk) == [elsewhere]
    assert rows(client, planner, view="due", q="an-77") == [there]


@pytest.mark.parametrize(
    "query", [{"site": "x"}, {"days": "x"}, {"week": "x"}, {"technician": "99999"}, {"page": "99"}, {"view": "x"}]
)
def test_a_filter_that_makes_no_sense_is_refused(client, planner, yearly, query):
    client.force_login(planner)
    assert client.get(URL, query).status_code == 400


def test_the_booked_week_is_the_one_around_the_day(client, planner, technician, yearly):
    inspections = [due(yearly, 5) for _ in range(3)]
    for inspection, days in zip(inspections, (-1, 3, 7), strict=True):  # TODAY is a Monday
        book_inspection(inspection, technician=technician, booked_on=TODAY + timedelta(days=days), by=planner, at=NOON)
    assert rows(client, planner, view="booked", week=TODAY + timedelta(days=2)) == [inspections[1]]


def test_work_of_other_sites_is_not_shown(client, yearly):
    due(yearly, 5)
    assert rows(client, make_person("planner", sites=[make_site()]), view="due") == []


def test_the_list_is_exported_whole_as_text(client, planner, yearly):
    for number in range(30):
        due(yearly, 5, asset_number=f"=A{number:02}")
    client.force_login(planner)
    response = client.get(URL, {"view": "due", "export": "csv"})
    lines = b"".join(response.streaming_content).decode().splitlines()
    assert lines[0].lstrip("\ufeff").startswith("Machine,Place,Procedure,Due,Stage,Booked")
    assert len(lines) == 31
    assert lines[1].startswith("\"'=A00, ") and "<" not in lines[1]


def test_every_list_asks_as_many_queries_for_30_as_for_3(client, yearly):
    person = make_person("planner", "technician")
    client.force_login(person)
    add_of_each(yearly, person, 3)
    client.get(URL)
    few = queries_by_tab(client)
    add_of_each(yearly, person, 27)
    assert queries_by_tab(client) == few


def queries_by_tab(client):
    counts = {}
    for tab in ("mine", *TABS):
        with CaptureQueriesContext(connection) as asked:
            client.get(URL, {"view": tab})
        counts[tab] = len(asked)
    return counts


def add_of_each(yearly, person, number):
    for _ in range(number):
        due(yearly, 5)
        due(yearly, -40)
        for days in (0, 1):
            booked = due(yearly, 5, area=make_area(minimum_machines=1))
            book_inspection(booked, technician=person, booked_on=TODAY + timedelta(days=days), by=person, at=NOON)
        open_inspection(booked, by=person, at=NOON)
        make_signed_inspection(procedure=yearly, by=person)
        void_inspection(due(yearly, 5), reason="Machine away", by=person, at=NOON)


def book(client, person, inspections, technician, day=TODAY, **fields):
    client.force_login(person)
    data = {"inspection": [one.pk for one in inspections], "technician": technician.pk, "booked_on": day, **fields}
    return client.post(BOOK, data, follow=True)


def told(response):
    return " ".join(str(message) for message in response.context["messages"])


def test_what_is_ticked_is_booked_together(client, planner, technician, yearly):
    inspections = [due(yearly, 5), due(yearly, 6)]
    response = book(client, planner, inspections, technician)
    assert f"2 booked for {technician} on 2 Nov 2026" in told(response)
    assert set(Inspection.objects.booked().for_technician(technician)) == set(inspections)


def test_ticking_nothing_is_told(client, planner, technician, yearly):
    assert "tick the inspections" in told(book(client, planner, [], technician))


def test_a_booking_that_leaves_an_area_short_asks_first(client, planner, technician, yearly):
    area = make_area(minimum_machines=2)
    inspections = [due(yearly, 5, area=area), due(yearly, 5, area=area)]
    response = book(client, planner, inspections, technician)
    assert "is left with 0 machines on 2 Nov 2026, below its minimum of 2" in response.content.decode()
    assert not Inspection.objects.booked().exists()
    book(client, planner, inspections, technician, although_short="on")
    assert Inspection.objects.booked().count() == 2


def test_a_day_that_is_past_is_refused(client, planner, technician, yearly):
    response = book(client, planner, [due(yearly, 5)], technician, TODAY - timedelta(days=1))
    assert "2026-11-01 is in the past" in response.content.decode()
    assert not Inspection.objects.booked().exists()


def test_a_technician_of_another_site_is_refused(client, planner, yearly):
    elsewhere = make_person("technician", sites=[make_site()])
    response = book(client, planner, [due(yearly, 5)], elsewhere)
    assert "Select a valid choice" in response.content.decode()
    assert not Inspection.objects.booked().exists()


def test_a_technician_who_works_at_one_of_two_sites_is_refused(client, planner, yearly):
    here, there = due(yearly, 5), due(yearly, 5)
    half = make_person("technician", sites=[here.machine.site])
    assert "does not work at every site" in book(client, planner, [here, there], half).content.decode()
    assert not Inspection.objects.booked().exists()


def test_what_was_begun_meanwhile_is_not_booked_nor_the_rest(client, planner, technician, yearly):
    free, begun = due(yearly, 5), due(yearly, 5)
    open_inspection(begun, by=technician, at=NOON)
    assert "already been started, signed or voided" in told(book(client, planner, [free, begun], technician))
    assert not Inspection.objects.booked().exists()


def test_what_another_site_has_is_not_booked(client, technician, yearly):
    inspection = due(yearly, 5)
    book(client, make_person("planner", sites=[make_site()]), [inspection], technician)
    inspection.refresh_from_db()
    assert inspection.stage == "planned"


def test_booking_is_posted_and_planners_alone_do_it(client, planner, technician, yearly):
    client.force_login(planner)
    assert client.get(BOOK).status_code == 405
    assert book(client, technician, [due(yearly, 5)], technician).status_code == 403


@pytest.mark.parametrize("query", [{}, {"days": 90}, {"q": "AN-1"}, {"stage": "booked"}, {"since": "2026-01-01"}])
def test_the_figures_are_of_all_work_whatever_the_list_is_narrowed_to(client, planner, yearly, query):
    due(yearly, 5, asset_number="AN-1"), due(yearly, 6), due(yearly, 60), due(yearly, -40)
    client.force_login(planner)
    context = client.get(URL, {"view": "due", **query}).context
    assert (context["figures"].due, context["figures"].overdue) == (2, 1)
    shown = {name: number for name, _, number, _ in context["tabs"]}
    assert shown["due"] == context["table"].paginator.count == len(rows(client, planner, view="due", **query))


def test_a_search_that_finds_most_machines_is_counted_up_to_a_number_and_says_so(client, planner, yearly, monkeypatch):
    area = make_area(name="Everywhere")
    for day in range(5):
        due(yearly, day, area=area)
    client.force_login(planner)

    def page(few, counted, **query):
        monkeypatch.setattr("fleet.models.querysets.machines.FEW", few)
        monkeypatch.setattr("inspections.views.work.COUNTED", counted)
        return client.get(URL, {"view": "due", "q": "everyw", **query}).content.decode()

    cut, said = page(2, 3), "This search finds most of the machines"
    assert "1 to 3 of more than 3" in cut and said in cut and cut.count('name="inspection"') == 3
    assert 'class="count"' not in cut
    assert "there is no page 2; the list has 1 page." in page(2, 3, page=2)
    assert "1 to 5 of 5" in page(2, 5) and said in page(2, 5)
    exact = page(500, 3)
    assert "1 to 5 of 5" in exact and said not in exact and 'class="count">5<' in exact
