"""An instrument found out of tolerance is a notice: its items are the inspections that would be decided otherwise."""

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from fleet.jobs.running import run_waiting_job
from fleet.models import Job
from inspections.actions import plan_work_of_item
from inspections.jobs.notices import MATCH_ALL, request_found_error_notice, request_matching_of_all
from inspections.models import NoticeItem, SafetyNotice
from tests.factories import NOON, TODAY, make_person, make_site
from tests.inspections.deciding.test_found_error import PSI, found_at
from tests.inspections.notices.scenes import make_notice, name, regulator


@pytest.fixture
def signed(scene):
    scene.complete()
    return scene.sign()


def press(calibration):
    client = Client()
    client.force_login(make_person("planner"))
    page = client.get(reverse("inspections:found_error", args=[calibration.pk])).content.decode()
    address = reverse("inspections:calibration_notice", args=[calibration.pk])
    assert address in page
    return client.post(address)


def test_its_items_are_the_inspections_that_would_change_and_are_repeated_by_their_own_procedure(scene, signed):
    press(found_at(scene.gauge, 6 * PSI))
    item = NoticeItem.objects.get()
    assert item.inspection == signed and "would be fail" in item.reason and item.notice.looked_inspections == 1
    planned = plan_work_of_item(item, procedure=None, due_on=TODAY, by=make_person("planner"), at=NOON)
    assert planned.procedure == signed.procedure


def test_an_error_that_changes_no_decision_leaves_a_notice_without_items(scene, signed):
    press(found_at(scene.gauge, 0.1))
    assert SafetyNotice.objects.get().looked_inspections == 1 and not NoticeItem.objects.exists()


def test_pressed_twice_it_is_one_notice(scene, signed):
    calibration = found_at(scene.gauge, 6 * PSI)
    press(calibration)
    press(calibration)
    assert SafetyNotice.objects.count() == NoticeItem.objects.count() == 1


def run(job):
    done = run_waiting_job(job.pk, clock=lambda: NOON + timedelta(days=40), pulse=False)
    job.refresh_from_db()
    return done, job


def test_in_the_background_it_is_the_same(scene, signed):
    calibration = found_at(scene.gauge, 6 * PSI)
    _, job = run(request_found_error_notice(calibration, by=make_person("planner"), at=NOON))
    assert job.stage == Job.Stage.DONE and NoticeItem.objects.get().inspection == signed


def test_the_search_of_every_night_adds_what_was_entered_since_then(db):
    notice = make_notice()
    name(notice)
    late = regulator(lot="R-24")
    _, job = run(request_matching_of_all(by=None, at=NOON))
    assert (job.kind, job.stage) == (MATCH_ALL, Job.Stage.DONE) and notice.items.get().component == late


def test_a_notice_of_an_instrument_is_seen_at_its_site_alone(scene, signed):
    press(found_at(scene.gauge, 6 * PSI))
    notice = SafetyNotice.objects.get()
    seen = SafetyNotice.objects.visible_to
    assert notice in seen(make_person("auditor", sites=[scene.gauge.site])) and notice in seen(make_person("auditor"))
    assert notice not in seen(make_person("auditor", sites=[make_site()]))
