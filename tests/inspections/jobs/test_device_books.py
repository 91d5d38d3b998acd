"""Device books as a background job: the archive holds paper, data, records and files, and names the digest of each."""

import hashlib
import io
import json
import zipfile

import pytest
from django.db import connection

from fleet.jobs.running import run_waiting_job
from fleet.models import Job, Machine
from inspections.errors import Refused
from inspections.jobs.device_books import MOST_MACHINES, request_device_books
from inspections.models import Attachment, DeviceBook
from tests.factories import NOON, make_machine, make_model, make_person, make_site
from tests.inspections.attachments.rows import attach
from tests.inspections.device_book.lives import live

pytestmark = pytest.mark.django_db


def do(job):
    run_waiting_job(job.pk, clock=lambda: NOON, pulse=False)
    job.refresh_from_db()
    return job


def made(machines, by):
    job = do(request_device_books(Machine.objects.filter(pk__in=[one.pk for one in machines]), by=by, at=NOON))
    assert job.stage == "done", job.error
    return job, zipfile.ZipFile(io.BytesIO(job.file.read()))


def sha256(data):
    return hashlib.sha256(data).hexdigest()


def test_the_archive_of_a_machine_holds_paper_data_records_and_files(scene):
    signed, machine = live(scene), scene.machine
    job, archive = made([machine], scene.other)
    folder = f"{machine.asset_number}-{machine.pk}"
    data = archive.read(f"{folder}/device-book.json")
    assert archive.read(f"{folder}/device-book.pdf").startswith(b"%PDF-")
    assert archive.read(f"{folder}/records/{signed.pk}.json").decode() == signed.record.content
    files = {one for one in archive.namelist() if "/files/" in one}
    in_place = Attachment.objects.of_machine(machine).in_place()
    assert files == {f"{folder}/files/{one.sent_as}" for one in in_place} and len(files) == 2
    book = DeviceBook.objects.get()
    assert (book.machine, book.digest, book.files, book.records) == (machine, sha256(data), 2, 1)
    assert (book.made_by, book.made_at) == (scene.other, NOON)
    assert job.title == f"Device book of machine {machine.asset_number}"
    assert job.result == "1 device book written."


def test_the_manifest_names_size_and_digest_of_every_file(scene):
    live(scene)
    _, archive = made([scene.machine], scene.other)
    manifest = json.loads(archive.read("manifest.json"))
    named = {one["path"]: one for one in manifest["files"]}
    assert set(named) == set(archive.namelist()) - {"manifest.json"}
    for path, one in named.items():
        assert (one["bytes"], one["sha256"]) == (len(archive.read(path)), sha256(archive.read(path)))
    assert manifest["altered"] == []
    [book] = manifest["books"]
    assert book["sha256"] == named[f"{book['folder']}/device-book.json"]["sha256"]


def test_five_machines_are_one_archive_and_each_book_is_stored():
    by = make_person("auditor")
    machines = [make_machine(model=make_model(code="other" if n else "type")) for n in range(2)]
    machines += [make_machine(model=machines[0].model) for _ in range(3)]
    job, archive = made(machines, by)
    assert sum(one.endswith("device-book.pdf") for one in archive.namelist()) == 5
    assert job.result == "5 device books written." and DeviceBook.objects.count() == 5


def test_a_file_that_was_altered_is_named_in_manifest_and_result():
    by = make_person("auditor")
    machine = make_machine()
    attach(by, machine=machine)
    with connection.cursor() as cursor:
        cursor.execute("UPDATE inspections_attachment SET content = %s", [b"other"])
    job, archive = made([machine], by)
    [altered] = json.loads(archive.read("manifest.json"))["altered"]
    assert "/files/" in altered["path"] and Attachment.objects.get().digest in altered["why"]
    assert "Altered since it was stored: 1 file." in job.result


def test_none_and_too_many_are_refused():
    by = make_person("auditor")
    with pytest.raises(Refused, match="no machine in this list"):
        request_device_books(Machine.objects.none(), by=by, at=NOON)
    model = make_model()
    for _ in range(MOST_MACHINES + 1):
        make_machine(model=model)
    with pytest.raises(Refused, match="More than 20 machines are too many"):
        request_device_books(Machine.objects.all(), by=by, at=NOON)
    assert not Job.objects.exists()


def test_too_many_bytes_are_refused_by_the_job(monkeypatch):
    by, machine = make_person("auditor"), make_machine()
    attach(by, machine=machine)
    monkeypatch.setattr("inspections.jobs.device_books.MOST_BYTES", 3)
    job = do(request_device_books(Machine.objects.filter(pk=machine.pk), by=by, at=NOON))
    assert job.stage == "failed" and "Choose fewer machines" in job.error
    assert not DeviceBook.objects.exists()


def test_a_machine_that_the_person_no_longer_sees_is_left_out():
    by, machine = make_person("auditor"), make_machine()
    job = request_device_books(Machine.objects.filter(pk=machine.pk), by=by, at=NOON)
    by.sites.add(make_site())
    done = do(job)
    assert "no longer visible to you: 1 machine." in done.result and not DeviceBook.objects.exists()
