"""The pages and papers of notices, as a planner uses them."""

import io

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pypdf import PdfReader

from fleet.canonical import canonical_json, digest_of
from inspections.models import Finding, NoticeItem, SafetyNotice
from inspections.reports.notice import notice_content
from tests.factories import make_area, make_machine, make_person, make_site
from tests.inspections.notices.scenes import FIELDS, KIND, make_notice, name, regulator, searched

pytestmark = pytest.mark.django_db


def signed_in(*groups, **fields):
    client = Client()
    client.force_login(make_person(*groups, **fields))
    return client


@pytest.fixture
def planner():
    return signed_in("planner")


def test_a_planner_goes_from_the_notice_to_work_on_every_item(planner):
    regulator(lot="R-24", serial="S-1")
    regulator(lot="R-31")
    entered = planner.post(reverse("inspections:notice_add"), {key: str(value) for key, value in FIELDS.items()})
    criteria = {"what": "component", "kind": KIND, "lots": "R-20 to R-29"}
    found = planner.post(entered["Location"], criteria, follow=True).content.decode()
    assert "1 concerned" in found and "S-1" in found
    notice = SafetyNotice.objects.get()
    address = reverse("inspections:notice_work", args=[notice.pk])
    planner.post(address, {"work": "finding", "severity": "other"})
    assert Finding.objects.get().origin == "notice"
    item = NoticeItem.objects.get()
    planner.post(item.get_absolute_url(), {"state": "done", "words": "Replaced"})
    planner.post(reverse("inspections:notice_close", args=[notice.pk]), {"note": "Answered"})
    assert not SafetyNotice.objects.get().is_open


@pytest.mark.parametrize(
    ("data", "says"),
    [
        ({"what": "component", "lots": "R-1"}, "Choose the kind of component"),
        ({"what": "machine"}, "This names everything"),
        ({"what": "instrument", "name": "x", "lots": "R-1"}, "does not apply to instruments"),
        ({"what": "component", "kind": KIND, "lots": "A1 to B2"}, "Enter it as"),
        ({"what": "machine", "built_from": 2010, "built_to": 2000}, "Enter the later year"),
    ],
)
def test_a_criterion_that_cannot_be_meant_is_refused(planner, data, says):
    answer = planner.post(reverse("inspections:notice_criterion_add", args=[make_notice().pk]), data)
    assert says in answer.content.decode()


def test_the_page_of_a_notice_has_a_fixed_number_of_queries(planner):
    notice = make_notice()
    name(notice)
    counts = []
    for number in (1, 6):
        for _ in range(number):
            regulator(lot="R-24")
        searched(notice)
        with CaptureQueriesContext(connection) as caught:
            planner.get(notice.get_absolute_url())
        counts.append(len(caught))
    assert counts[0] == counts[1]


def test_a_person_of_one_site_sees_only_its_items():
    mine = make_site()
    regulator(make_machine(area=make_area(mine), asset_number="MINE"), lot="R-24")
    other = regulator(make_machine(asset_number="OTHER"), lot="R-24")
    notice = make_notice()
    name(notice)
    searched(notice)
    client = signed_in("planner", sites=[mine])
    page = client.get(notice.get_absolute_url()).content.decode()
    assert "MINE" in page and "OTHER" not in page
    theirs, own = (notice.items.get(component__machine__asset_number=number) for number in ("OTHER", "MINE"))
    assert theirs.component == other and client.get(theirs.get_absolute_url()).status_code == 404
    changes = [("notice", notice), ("notice-item", own), ("notice-item", theirs)]
    pages = [client.get(reverse("fleet:changes", args=[kind, row.pk])) for kind, row in changes]
    assert [page.status_code for page in pages] == [200, 200, 404]
    assert "OTHER" not in pages[0].content.decode()


def words_of(response):
    return "\n".join(page.extract_text() for page in PdfReader(io.BytesIO(response.content)).pages)


def test_the_proof_names_criteria_numbers_items_and_its_digest(planner):
    regulator(lot="R-24", serial="S-1")
    regulator(lot="", serial="S-2")
    notice = make_notice()
    name(notice)
    notice = searched(notice)
    words = words_of(planner.get(reverse("inspections:notice_proof", args=[notice.pk])))
    items = list(notice.items.with_place().order_by("pk"))
    digest = digest_of(canonical_json(notice_content(notice, items)))
    for expected in ("R-20 to R-29", "S-1", "no lot is recorded", "looked at"):
        assert expected in words
    assert digest[:32] in words.replace("\n", "")


def test_the_items_begin_on_the_first_page_of_the_proof(planner):
    for number in range(13):
        regulator(lot="R-24", serial=f"S-{number}")
    notice = make_notice()
    name(notice)
    searched(notice)
    response = planner.get(reverse("inspections:notice_proof", args=[notice.pk]))
    first = PdfReader(io.BytesIO(response.content)).pages[0].extract_text()
    assert "S-0" in first and "S-5" in first


def test_the_reply_holds_serials_and_leaves_room_for_a_signature(planner):
    regulator(lot="R-24", serial="S-1")
    notice = make_notice()
    name(notice)
    searched(notice)
    words = words_of(planner.get(reverse("inspections:notice_reply", args=[notice.pk])))
    assert "S-1" in words and "Signature" in words and "Test works" in words
