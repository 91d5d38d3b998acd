"""The pages of a decommissioning: reached from the retirement, answered with a proof, listed while open."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inspections.decommissioning.checklist import ITEMS
from inspections.models import DecommissioningAnswer
from tests.factories import NOON, make_machine, make_person, make_site
from tests.inspections.attachments.hostile_files import SVG, pdf
from tests.inspections.decommissioning.runs import answer, retired

pytestmark = pytest.mark.django_db


@pytest.fixture
def by():
    return make_person("manager")


@pytest.fixture
def page(client, by, time_machine):
    time_machine.move_to(NOON, tick=False)
    client.force_login(by)
    return client


def item_of(machine, code="cleaned"):
    return reverse("inspections:decommissioning_item", args=[machine.pk, code])


def list_of(machine):
    return reverse("inspections:decommissioning", args=[machine.pk])


def test_whoever_retires_a_machine_is_led_to_its_checklist(page, by):
    machine = make_machine(by=by)
    answer = page.post(reverse("fleet:machine_retire", args=[machine.pk]), {"reason": "Too old"})
    assert answer.url == list_of(machine)
    text = page.get(answer.url).text
    assert f"<b>0</b> of <b>{len(ITEMS)}</b> items answered" in text
    assert all(item.title in text for item in ITEMS.values())
    assert "Decommissioning" in page.get(machine.get_absolute_url()).text


def test_an_item_is_answered_with_a_proof(page, by):
    machine = retired(by)
    data = {"state": "done", "words": "By hygiene", "file": SimpleUploadedFile("c.pdf", pdf())}
    assert page.post(item_of(machine), data).url == list_of(machine)
    made = DecommissioningAnswer.objects.get()
    text = page.get(list_of(machine)).text
    assert "By hygiene" in text and made.proof.get_absolute_url() in text
    assert 'value="2026-11-02T12:00:00+00:00"' in page.get(item_of(machine)).text


@pytest.mark.parametrize("data, words", [
    ({}, "Choose “Done” or “Does not apply”."),
    ({"state": "does not apply"}, "does not apply to this machine"),
    ({"state": "done", "file": SVG}, "SVG, XML or HTML"),
])  # fmt: skip
def test_a_mistake_is_said_on_the_page_and_nothing_is_stored(page, by, data, words):
    machine = retired(by)
    if "file" in data:
        data = {**data, "file": SimpleUploadedFile("a.png", data["file"])}
    assert words in page.post(item_of(machine), data).text
    assert not DecommissioningAnswer.objects.exists()


def test_the_route_is_chosen_at_its_item_alone(page, by):
    machine = retired(by)
    assert "Scrapped as electrical waste" in page.get(item_of(machine, "route")).text
    assert "Scrapped as electrical waste" not in page.get(item_of(machine)).text
    page.post(item_of(machine, "route"), {"state": "done", "route": "scrap"})
    assert "scrapped as electrical waste" in page.get(list_of(machine)).text


def test_a_machine_in_service_offers_no_answer(page, by):
    machine = make_machine(by=by)
    assert "is in service" in page.get(item_of(machine)).text
    assert "is in service" in page.post(item_of(machine), {"state": "done"}).text
    assert not DecommissioningAnswer.objects.exists()
    assert page.get(item_of(machine, "nothing")).status_code == 404


def test_who_only_reads_sees_the_list_and_cannot_answer(client, by):
    machine = retired(by)
    client.force_login(make_person("auditor"))
    assert client.get(list_of(machine)).status_code == 200
    assert client.post(item_of(machine), {"state": "done"}).status_code == 403
    client.force_login(make_person("manager", sites=[make_site()]))
    assert {client.get(one).status_code for one in (list_of(machine), item_of(machine))} == {404}


def test_open_checklists_are_listed_in_a_fixed_number_of_queries(page, by):
    url = reverse("inspections:decommissionings")
    assert "No decommissioning is open" in page.get(url).text
    machine = retired(by)
    answer(machine, by)

    def queries():
        with CaptureQueriesContext(connection) as captured:
            text = page.get(url).text
        assert f"1 of {len(ITEMS)}" in text and str(machine) in text
        return len(captured)

    few = queries()
    for _ in range(8):
        retired(by)
    assert queries() == few
