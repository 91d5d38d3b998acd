"""Who opens a machine without a cover table of today has it computed: at once, or in the background."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from fleet.actions import retire_machine
from fleet.circuits.covers import on_view, storing
from fleet.circuits.covers.on_view import compute_on_view
from fleet.circuits.covers.program_digest import rules
from fleet.jobs.running import run_waiting_job
from fleet.models import CircuitCover, Job, MachineCover
from tests.factories import make_machine, make_model, make_person, make_site

BY_ITSELF, REPEATED = 'hx-trigger="load"', 'hx-trigger="every 2s"'
HTMX = {"HX-Request": "true"}


@pytest.fixture
def auditor(client, db):
    """A person who may see machines and request no job."""
    person = make_person("auditor")
    client.force_login(person)
    return person


@pytest.fixture
def large(monkeypatch):
    """Every circuit counts as too large to wait for."""
    monkeypatch.setattr(on_view, "WHILE_ONE_WAITS", 0)


def page(client, machine):
    return client.get(reverse("fleet:machine_cover", args=[machine.pk])).content.decode()


def asked(client, machine, **posted):
    """The answer to what the page asks for by itself."""
    return client.post(reverse("fleet:machine_cover_first", args=[machine.pk]), posted, headers=HTMX)


def run(job):
    run_waiting_job(job.pk, clock=timezone.now, pulse=False)
    job.refresh_from_db()
    return job


def test_the_page_asks_for_the_table_and_shows_it_then(client, auditor, machines):
    assert BY_ITSELF in page(client, machines[0])
    assert asked(client, machines[0]).headers["HX-Refresh"] == "true"
    text = page(client, machines[0])
    assert "causes looked at" in text and BY_ITSELF not in text
    assert not Job.objects.exists() and MachineCover.objects.count() == 1


def test_the_page_of_the_machine_asks_too_and_shows_the_open_hazards(client, auditor, machines):
    text = client.get(machines[0].get_absolute_url()).content.decode()
    assert BY_ITSELF in text and 'name="panel"' in text
    section = asked(client, machines[0], panel="yes").content.decode()
    assert section.startswith("\n<section") or section.startswith("<section")
    assert "leaves open" in section and "hx-trigger" not in section


def test_without_scripts_a_button_asks_and_leads_to_the_table(client, auditor, machines):
    assert "<noscript><button" in page(client, machines[0])
    response = client.post(reverse("fleet:machine_cover_first", args=[machines[0].pk]))
    assert response.url == reverse("fleet:machine_cover", args=[machines[0].pk])
    assert "causes looked at" in page(client, machines[0])


def test_a_large_circuit_is_computed_in_the_background_once_for_all_who_wait(client, auditor, machines, large):
    for person in (auditor, make_person("planner")):
        client.force_login(person)
        text = asked(client, machines[0]).content.decode()
        assert "in the background" in text and REPEATED in text
    job = Job.objects.get()
    assert (job.by, job.params) == (None, {"machine": machines[0].pk})
    assert run(job).stage == Job.Stage.DONE
    assert asked(client, machines[0]).headers["HX-Refresh"] == "true"
    assert Job.objects.count() == 1 and "causes looked at" in page(client, machines[0])


def test_a_job_that_waits_for_long_says_so(client, auditor, machines, large):
    asked(client, machines[0])
    Job.objects.update(asked_at=timezone.now() - timedelta(minutes=5))
    assert "waiting for a while" in asked(client, machines[0]).content.decode()


def test_a_failed_job_is_told_and_tried_again_only_after_an_hour(client, auditor, machines, large, monkeypatch):
    asked(client, machines[0])
    monkeypatch.setattr(storing, "compute", lambda *_: 1 / 0)
    assert run(Job.objects.get()).stage == Job.Stage.FAILED
    text = asked(client, machines[0]).content.decode()
    assert "could not be computed just now" in text and "hx-trigger" not in text and Job.objects.count() == 1
    compute_on_view(machines[0], at=timezone.now() + timedelta(minutes=61))
    assert Job.objects.count() == 2


def test_the_table_of_an_equal_circuit_is_no_job_however_large(client, auditor, machines, covers, large, monkeypatch):
    covers(at=timezone.now(), machine=machines[0].pk)
    monkeypatch.setattr(storing, "compute", lambda *_: 1 / 0)
    assert asked(client, machines[1]).headers["HX-Refresh"] == "true"
    assert MachineCover.objects.get(machine=machines[1]).cover == CircuitCover.objects.get()


def test_a_table_of_an_earlier_release_is_computed_again(client, auditor, machines, covers):
    covers(at=timezone.now())
    CircuitCover.objects.update(rules="0" * 64)
    text = page(client, machines[0])
    assert "This is not today" in text and BY_ITSELF in text
    asked(client, machines[0])
    assert CircuitCover.objects.get().rules == rules() and BY_ITSELF not in page(client, machines[0])


def test_a_circuit_that_cannot_be_computed_says_why_and_is_not_asked_for_again(client, auditor, db):
    machine = make_machine(model=make_model(circuit=""))
    assert asked(client, machine).headers["HX-Refresh"] == "true"
    assert MachineCover.objects.get().reason
    text = page(client, machine)
    assert "cannot be computed" in text and "hx-trigger" not in text


def test_a_retired_machine_is_not_computed(client, auditor, machines):
    retire_machine(machines[0], reason="worn", by=make_person("planner"), at=timezone.now())
    text = page(client, machines[0])
    assert "Circuits of retired machines are not computed" in text and "hx-trigger" not in text
    asked(client, machines[0])
    assert not MachineCover.objects.exists()


def test_a_valid_table_is_left_as_it_is(client, auditor, machines, covers):
    covers(at=timezone.now())
    before = MachineCover.objects.get(machine=machines[0]).computed_at
    assert asked(client, machines[0]).headers["HX-Refresh"] == "true"
    assert MachineCover.objects.get(machine=machines[0]).computed_at == before


def test_a_machine_of_another_site_is_not_found_and_a_link_computes_nothing(client, machines):
    address = reverse("fleet:machine_cover_first", args=[machines[0].pk])
    client.force_login(make_person("auditor", sites=[make_site()]))
    assert client.post(address, headers=HTMX).status_code == 404
    client.force_login(make_person("auditor"))
    assert client.get(address).status_code == 405
    assert not MachineCover.objects.exists()
