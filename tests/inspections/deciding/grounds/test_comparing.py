"""Countersigning, closing a finding and judging a criterion also rest on what their page showed."""

import pytest
from django.urls import reverse

from inspections.actions import amend_inspection, judge_criterion, report_fault
from inspections.models import CriterionJudgement, Finding, Inspection, SignedRecord
from inspections.retirement.gathering import can_be_judged, review_of
from inspections.review import CRITERIA
from tests.decisions import CODED, send, shown_on
from tests.factories import NOON, PASSWORD, TODAY, make_person


@pytest.fixture
def signed(scene):
    scene.complete()
    return scene.sign(at=NOON)


def countersign_url(signed):
    return reverse("inspections:countersign", args=[signed.pk])


@pytest.mark.parametrize(
    "change",
    [
        lambda s, signed: amend_inspection(signed, correction="51 psi", reason="Slip", by=s.technician, at=NOON),
        lambda s, signed: SignedRecord.objects.update(digest="0" * 64),
    ],
    ids=["amended", "another record"],
)
def test_a_record_that_changed_since_is_not_countersigned(client, scene, signed, change):
    client.force_login(scene.other)
    shown = shown_on(client.get(countersign_url(signed)))
    change(scene, signed)
    page = client.post(countersign_url(signed), {"password": PASSWORD, "shown": shown})
    assert page.status_code == 409 and "Nothing was countersigned" in page.text and page.context["changes"]
    assert Inspection.objects.get(pk=signed.pk).stage == "signed"
    client.post(countersign_url(signed), {"password": PASSWORD, "shown": shown_on(page)})
    assert Inspection.objects.get(pk=signed.pk).stage == "countersigned"


def test_without_what_was_shown_nothing_is_countersigned(client, scene, signed):
    client.force_login(scene.other)
    assert client.post(countersign_url(signed), {"password": PASSWORD}).status_code == 409
    assert Inspection.objects.get(pk=signed.pk).stage == "signed"


def test_a_finding_that_is_not_essential_is_closed_on_what_was_shown(client, scene):
    found = report_fault(scene.machine, title="Castor drags", severity="other", by=scene.other, at=NOON)
    url = f"/findings/{found.pk}/close/"
    client.force_login(scene.technician)
    shown = shown_on(client.get(url))
    Finding.objects.update(description="And it now smokes.")
    page = client.post(url, {"note": "Oiled", "shown": shown, **CODED})
    assert page.status_code == 409 and "And it now smokes." in page.text and "Oiled" in page.text
    assert Finding.objects.get().is_open
    assert send(client, url, {"note": "Oiled", **CODED}).status_code == 302 and not Finding.objects.get().is_open


def test_a_criterion_judged_by_somebody_else_meanwhile_is_not_judged_unseen(client, scene):
    manager = make_person("manager")
    facts = review_of(scene.machine, TODAY).facts
    criterion = next(code for code, one in CRITERIA.items() if can_be_judged(one, facts))
    url = reverse("inspections:judge", args=[scene.machine.pk, criterion])
    client.force_login(manager)
    shown = shown_on(client.get(url))
    judge_criterion(scene.machine, criterion, answer="met", reason="Seen", by=make_person("manager"), at=NOON)
    page = client.post(url, {"answer": "not met", "reason": "Never seen", "shown": shown})
    assert page.status_code == 409 and "Nothing was judged" in page.text and "Never seen" in page.text
    assert CriterionJudgement.objects.count() == 1
    client.post(url, {"answer": "not met", "reason": "Never seen", "shown": shown_on(page)})
    assert CriterionJudgement.objects.count() == 2
