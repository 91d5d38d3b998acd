"""The pages that ask for device books, from the machine and from the filtered list."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from fleet.actions import retire_machine
from fleet.models import Job
from inspections.actions import record_device_books
from tests.factories import NOON, make_machine, make_model, make_person, make_site
from tests.inspections.decommissioning.runs import made_book

pytestmark = pytest.mark.django_db
BOOKS = reverse("inspections:device_books")


@pytest.fixture
def by():
    return make_person("auditor")


@pytest.fixture
def page(client, by):
    client.force_login(by)
    return client


def book_of(machine):
    return reverse("inspections:device_book", args=[machine.pk])


def test_the_book_of_a_machine_is_two_clicks_away_and_those_made_are_listed(page, by):
    machine = make_machine()
    assert book_of(machine) in page.get(machine.get_absolute_url()).text
    assert "No device book of this machine" in page.get(book_of(machine)).text
    answer = page.post(book_of(machine))
    job = Job.objects.get()
    assert answer.url == job.get_absolute_url() and job.params == {"machines": [machine.pk]}
    record_device_books([made_book(machine)], by=by, at=NOON)
    assert "0" * 64 in page.get(book_of(machine)).text


def test_the_list_takes_its_filter_along_and_only_what_is_ticked_is_made(page):
    model = make_model()
    first, second, other = (make_machine(asset_number=name, model=model) for name in ("A-1", "A-2", "B-1"))
    assert f"{BOOKS}?q=A-" in page.get(f"{reverse('fleet:machines')}?q=A-").text
    text = page.get(f"{BOOKS}?q=A-").text
    assert "A-1" in text and "A-2" in text and "B-1" not in text
    page.post(f"{BOOKS}?q=A-", {"machine": [first.pk, other.pk]})
    page.post(f"{BOOKS}?q=A-")
    assert [one.params["machines"] for one in Job.objects.order_by("pk")] == [[first.pk], [first.pk, second.pk]]


def test_machines_that_somebody_names_are_pasted_and_found_though_retired_or_outside_the_filter(page, by):
    model = make_model()
    first, gone, other = (make_machine(asset_number=name, model=model) for name in ("AX-1", "AX-2", "B 1"))
    retire_machine(gone, reason="Too old", by=by, at=NOON)
    assert 'name="numbers"' in page.get(f"{BOOKS}?q=nothing").text
    page.post(f"{BOOKS}?q=nothing", {"numbers": "ax-1; AX-2\r\nB 1,"})
    assert Job.objects.get().params["machines"] == sorted([first.pk, gone.pk, other.pk])


def test_a_number_that_is_not_found_is_named_and_nothing_is_made(client):
    mine, theirs = make_machine(asset_number="AX-1"), make_machine(asset_number="AX-2")
    client.force_login(make_person("auditor", sites=[mine.area.site]))
    text = client.post(BOOKS, {"numbers": f"AX-1, {theirs.asset_number}, AX-3"}).text
    assert "No machine that you may see: AX-2, AX-3" in text and not Job.objects.exists()
    assert "This field is required" in client.post(BOOKS, {"numbers": " , "}).text
    many = client.post(BOOKS, {"numbers": ",".join(f"N{number}" for number in range(201))}).text
    assert "201 asset numbers are too many" in many and not Job.objects.exists()


def test_too_many_are_refused_with_a_sentence(page, monkeypatch):
    monkeypatch.setattr("inspections.jobs.device_books.MOST_MACHINES", 1)
    model = make_model()
    make_machine(model=model), make_machine(model=model)
    assert "Tick 1 or fewer" in page.post(BOOKS, follow=True).text
    assert "No machine is in this list" in page.get(f"{BOOKS}?q=nothing").text
    assert page.get(f"{BOOKS}?status=nothing").status_code == 400


def test_who_may_not_read_machines_gets_no_book_and_other_sites_are_not_found(client):
    machine = make_machine()
    client.force_login(make_person())
    assert {client.get(one).status_code for one in (BOOKS, book_of(machine))} == {403}
    client.force_login(make_person("auditor", sites=[make_site()]))
    assert client.post(book_of(machine)).status_code == 404
    client.post(BOOKS, {"machine": [machine.pk]})
    assert not Job.objects.exists()


def test_the_list_asks_a_fixed_number_of_queries(page):
    model = make_model()
    make_machine(model=model)

    def queries():
        with CaptureQueriesContext(connection) as captured:
            assert page.get(BOOKS).status_code == 200
        return len(captured)

    page.get(BOOKS)
    few = queries()
    for _ in range(8):
        make_machine(model=model)
    assert queries() == few
