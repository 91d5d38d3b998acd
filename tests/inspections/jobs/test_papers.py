"""The records of a list as PDFs in one archive, and the papers of a large fleet in the background."""

import io
import zipfile
from datetime import timedelta
from urllib.parse import parse_qs, urlsplit

import pypdf
import pytest
from django.urls import reverse

from fleet.jobs.running import run_waiting_job
from fleet.models import Job
from inspections.actions import amend_inspection
from inspections.errors import Refused
from inspections.jobs.papers import request_record_papers
from inspections.models import Inspection
from tests.factories import NOON, make_machine, make_person, make_site

LATER = NOON + timedelta(hours=3)
PAPERS = reverse("inspections:record_papers")


def do(job):
    run_waiting_job(job.pk, clock=lambda: LATER, pulse=False)
    job.refresh_from_db()
    assert job.stage == "done", job.error
    return job


@pytest.fixture
def two_records(scene):
    """Two signed records of one machine, the second amended."""
    scene.complete()
    first = scene.sign()
    second = scene.again(at=LATER)
    scene.complete(at=LATER)
    scene.sign(at=LATER)
    amend_inspection(second, correction="Read 27 psi.", reason="Misread.", by=scene.technician, at=LATER)
    return first, second


def test_every_record_that_the_filter_keeps_is_printed_with_its_amendments(scene, two_records, client):
    client.force_login(scene.technician)
    answer = client.post(f"{PAPERS}?view=signed&q={scene.machine.asset_number}")
    job = do(Job.objects.get())
    assert answer["Location"] == job.get_absolute_url()
    assert (job.title, job.result, job.by) == ("2 records as PDF", "2 records written.", scene.technician)
    with zipfile.ZipFile(job.file) as archive:
        names = [f"record-{scene.machine.asset_number}-{one.pk}.pdf" for one in two_records]
        assert archive.namelist() == names
        text = "".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(archive.read(names[1]))).pages)
    assert "Read 27 psi." in text and scene.machine.asset_number in text


def test_only_what_is_ticked_is_printed(scene, two_records, client):
    client.force_login(scene.technician)
    client.post(f"{PAPERS}?view=signed", {"inspection": [two_records[0].pk]})
    assert Job.objects.get().params == {"inspections": [two_records[0].pk]}


def test_asking_twice_gives_one_job(scene, two_records, client):
    client.force_login(scene.technician)
    assert client.post(PAPERS)["Location"] == client.post(PAPERS)["Location"]


def test_a_list_without_records_says_so_and_stays_as_it_was(scene, client):
    client.force_login(scene.technician)
    answer = client.post(f"{PAPERS}?view=signed&q=nothing", follow=True)
    assert "There is no signed record among these" in answer.content.decode()
    assert parse_qs(urlsplit(answer.redirect_chain[0][0]).query) == {"view": ["signed"], "q": ["nothing"]}
    assert not Job.objects.exists()


def test_too_many_are_refused_with_the_number(scene, two_records, monkeypatch):
    monkeypatch.setattr("inspections.jobs.papers.MOST_RECORDS", 1)
    with pytest.raises(Refused, match="2 records are too many at once. Narrow the list to 1 or fewer"):
        request_record_papers(Inspection.objects.all(), by=scene.technician, at=NOON)


def test_what_the_person_may_not_see_is_neither_asked_for_nor_written(scene, two_records, client):
    elsewhere = make_person("technician", sites=[make_site()])
    client.force_login(elsewhere)
    client.post(PAPERS, {"inspection": [two_records[0].pk]})
    assert not Job.objects.exists()
    job = request_record_papers(Inspection.objects.all(), by=scene.technician, at=NOON)
    scene.technician.sites.set([make_site()])
    assert do(job).result == "0 records written. 2 are no longer visible to you and were left out."


def test_asking_needs_the_permission_and_the_right_method(scene, client):
    client.force_login(make_person())
    assert client.post(PAPERS).status_code == 403
    client.force_login(scene.technician)
    assert client.get(PAPERS).status_code == 405


def test_the_cover_report_of_a_large_fleet_is_written_in_the_background(db, client, monkeypatch):
    monkeypatch.setattr("fleet.views.cover.MOST_AT_ONCE", 1)
    machines = [make_machine() for _ in range(2)]
    manager = make_person("manager")
    client.force_login(manager)
    url = reverse("fleet:cover_export", args=["csv"])
    answer = client.get(url, {"status": "in service", "on": "2026-10-02"})
    job = do(Job.objects.get())
    assert answer["Location"] == job.get_absolute_url()
    assert job.result == "Cover report of 2 machines." and job.file_name == "cover-2026-10-02.csv"
    written = job.file.read()
    monkeypatch.setattr("fleet.views.cover.MOST_AT_ONCE", 2)
    at_once = client.get(url, {"status": "in service", "on": "2026-10-02"})
    assert all(machine.asset_number.encode() in written for machine in machines)
    assert written == at_once.content, "the same file either way"


def test_the_retirement_review_of_a_large_fleet_is_written_in_the_background(db, client, monkeypatch):
    monkeypatch.setattr("inspections.views.pdfs.MOST_AT_ONCE", 0)
    machine = make_machine()
    client.force_login(make_person("manager"))
    answer = client.get(reverse("inspections:review_pdf"), {"site": machine.area.site_id})
    job = do(Job.objects.get())
    assert answer["Location"] == job.get_absolute_url()
    text = "".join(page.extract_text() for page in pypdf.PdfReader(job.file).pages)
    assert machine.asset_number in text
