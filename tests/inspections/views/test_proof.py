"""The pages on which records prove themselves: chains and seals, verification as long work, and printed records."""

import re
from datetime import timedelta

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone

from fleet.jobs.running import run_waiting_jobs
from fleet.models import Job, JournalHead
from inspections.actions import countersign_inspection
from inspections.chain.seals import read_seals, seals_of
from inspections.models import ChainEntry, ChainHead, Reading
from inspections.reports.record import write_record
from inspections.reports.sources import for_record
from tests.factories import NOON, make_person, make_site

VERIFY, SEAL, CHECK = (reverse(f"inspections:{name}") for name in ("verify", "seal", "check_pdf"))


@pytest.fixture
def signed(scene):
    scene.complete()
    return scene.sign()


@pytest.fixture
def auditor(client, db):
    client.force_login(make_person("auditor"))
    return client


def verified(auditor, **sent):
    """Ask for a verification and let it run; the job."""
    assert auditor.post(VERIFY, sent).status_code == 302
    job = Job.objects.latest("pk")
    run_waiting_jobs(clock=timezone.now, pulse=False)
    job.refresh_from_db()
    return job


def upload(text, name="seal.txt"):
    return SimpleUploadedFile(name, text if isinstance(text, bytes) else text.encode())


def test_an_auditor_sees_the_chains_and_saves_the_seals(auditor, signed):
    head = ChainHead.objects.get()
    page = auditor.get(VERIFY).content.decode()
    assert head.digest in page and str(head.site) in page
    answer = auditor.get(SEAL)
    assert answer["Content-Disposition"].startswith('attachment; filename="bobbin-seal-')
    assert read_seals(answer.content.decode()) == seals_of()


def test_a_verification_says_that_all_is_as_signed(auditor, signed):
    job = verified(auditor)
    assert re.fullmatch(
        r"1 records with 1 entries at 1 site and \d+ rows with \d+ journal entries verified: all as signed.",
        job.result,
    )
    assert JournalHead.objects.get().digest in auditor.get(VERIFY).content.decode()
    assert job.result in auditor.get(VERIFY).content.decode()


def test_a_verification_names_what_was_altered_in_a_file(auditor, signed):
    Reading.objects.filter(as_read="45").update(as_read="46")
    job = verified(auditor)
    assert "1 item not as signed" in job.result
    assert b"as_read: expected 45, found 46" in job.file.read()


def test_a_verification_holds_the_store_against_a_seal(auditor, signed):
    forged = str(seals_of()[0]).replace(ChainEntry.objects.get().digest, "e" * 64)
    assert "not as signed" in verified(auditor, seals=upload(forged)).result


def test_a_file_that_is_no_seal_is_told_and_nothing_begins(auditor, signed):
    for content, sentence in (("hello", "Line 1 is not a seal"), (b"\xff\xfe", "is not a text file")):
        answer = auditor.post(VERIFY, {"seals": upload(content)})
        assert answer.status_code == 422 and sentence in answer.content.decode()
    assert not Job.objects.exists()


def test_somebody_narrowed_to_another_site_sees_and_verifies_nothing_of_this_one(client, signed):
    client.force_login(make_person("auditor", sites=[make_site()]))
    assert ChainHead.objects.get().digest not in client.get(VERIFY).content.decode()
    assert not read_or_none(client.get(SEAL).content.decode())
    assert verified(client).result.startswith("0 records with 0 entries")


def read_or_none(text):
    return [line for line in text.splitlines() if not line.startswith("#")]


@pytest.mark.parametrize("page", [VERIFY, SEAL, CHECK])
def test_the_pages_are_for_those_who_read_records(client, db, page):
    client.force_login(make_person())
    assert client.get(page).status_code == 403
    client.force_login(make_person("auditor"))
    assert client.delete(page).status_code == 405


def paper(inspection):
    inspection = for_record(type(inspection).objects).get(pk=inspection.pk)
    return write_record(inspection, list(inspection.amendments.select_related("by", "step")))


def test_an_uploaded_record_is_genuine_until_something_is_added(auditor, scene, signed):
    printed = paper(signed)
    assert "Genuine" in auditor.post(CHECK, {"file": upload(printed, "r.pdf")}).content.decode()
    countersign_inspection(signed, by=scene.other, at=NOON + timedelta(hours=2))
    page = auditor.post(CHECK, {"file": upload(printed, "r.pdf")}).content.decode()
    assert "Superseded" in page and "Countersignature, 2 Nov 2026" in page


def test_an_upload_that_is_no_record_is_told(auditor, signed):
    assert "No record" in auditor.post(CHECK, {"file": upload("hello", "r.pdf")}).content.decode()
    answer = auditor.post(CHECK, {})
    assert answer.status_code == 422 and "Choose a PDF first." in answer.content.decode()


def test_a_record_of_another_site_is_not_told_about(client, signed):
    client.force_login(make_person("auditor", sites=[make_site()]))
    page = client.post(CHECK, {"file": upload(paper(signed), "r.pdf")}).content.decode()
    assert "Not in the store" in page and str(signed.machine) not in page


def test_the_record_tells_its_place_in_the_chain(auditor, signed):
    page = auditor.get(signed.get_absolute_url()).content.decode()
    assert f"Signature: entry 1 of the chain of {signed.machine.site}" in page


def test_the_list_of_chains_takes_the_same_queries_however_many(auditor, signed, django_assert_max_num_queries):
    for _ in range(30):
        ChainHead.objects.create(site=make_site(), digest="0" * 64)
    with django_assert_max_num_queries(12):
        auditor.get(VERIFY)
