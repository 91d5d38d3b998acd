"""Many first due dates are levelled in the background, with the days that the page shows."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from fleet.jobs.running import run_waiting_job
from fleet.models import Job
from inspections.jobs.levelling import request_levelling
from inspections.models import Inspection
from inspections.schedule.levelling import LEVELLED, days_before_and_after, first_inspections, levelled
from tests.factories import NOON, TODAY, load_all_procedures, make_inspection, make_machine, make_person


@pytest.fixture
def planner(db):
    load_all_procedures()
    return make_person("planner")


def make_first(number, due_on=TODAY):
    model = make_machine().model
    return [make_inspection(make_machine(model=model), due_on=due_on) for _ in range(number)]


def run(job):
    run_waiting_job(job.pk, clock=lambda: NOON, pulse=False)
    job.refresh_from_db()
    return job


def test_the_days_are_known_without_a_ranking(planner):
    make_first(7)
    chosen = first_inspections(planner, TODAY)
    before, after = days_before_and_after(chosen, TODAY)
    assert sorted(after) == sorted(one.due_on for one in levelled(chosen, TODAY)) and before == [TODAY] * 7


def test_the_job_levels_all_and_says_how_many(planner):
    make_first(3)
    job = run(request_levelling(3, by=planner, at=NOON))
    assert job.stage == Job.Stage.DONE and job.result == "3 first due dates are levelled."
    assert Inspection.objects.filter(note__startswith=LEVELLED).count() == 3


def test_the_job_levels_none_where_there_are_others_than_were_shown(planner):
    make_first(3)
    job = run(request_levelling(2, by=planner, at=NOON))
    assert job.stage == Job.Stage.FAILED
    assert not Inspection.objects.filter(note__startswith=LEVELLED).exists()


def test_the_page_hands_many_to_the_background(client, planner, monkeypatch):
    monkeypatch.setattr("inspections.views.levelling.AT_ONCE", 2)
    make_first(3, due_on=timezone.localdate() + timedelta(days=1))
    client.force_login(planner)
    url = reverse("inspections:levelling")
    assert "levelled in the background" in client.get(url).content.decode()
    answer = client.post(url, {"number": 3})
    job = Job.objects.get()
    assert answer.url == job.get_absolute_url() and job.params == {"number": 3}
