"""The pages of attached files: attaching in a real request, the download, rights, sites, and bounded lists."""

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inspections.actions import withdraw_attachment
from inspections.models import Attachment
from tests.factories import NOON, make_component, make_machine, make_person, make_site
from tests.inspections.attachments.hostile_files import REFUSED, pdf, picture_bytes
from tests.inspections.attachments.rows import attach

pytestmark = pytest.mark.django_db


@pytest.fixture
def by():
    return make_person("technician")


@pytest.fixture
def machine(by):
    return make_machine(by=by)


@pytest.fixture
def page(client, by, time_machine):
    time_machine.move_to(NOON, tick=False)
    client.force_login(by)
    return client


def files_of(machine):
    return reverse("inspections:files", args=["machine", machine.pk])


def send(client, machine, content, *, name="certificate.pdf", title="Certificate"):
    return client.post(files_of(machine), {"title": title, "file": SimpleUploadedFile(name, content)})


def address(name, attachment):
    return reverse(f"inspections:{name}", args=[attachment.pk])


def test_a_file_is_attached_listed_and_downloaded_as_it_was(page, machine, by):
    assert "Nothing is attached" in page.get(files_of(machine)).text
    answer = send(page, machine, pdf(), name="Zertifikat ä.pdf")
    assert answer.status_code == 302 and answer.url == files_of(machine)
    made = Attachment.objects.get()
    assert (made.name, made.kind, made.by, made.at) == ("Zertifikat ä.pdf", "pdf", by, NOON)
    for shown in (files_of(machine), reverse("inspections:machine_files", args=[machine.pk])):
        text = page.get(shown).text
        assert "Certificate" in text and address("attachment_download", made) in text
    sent = page.get(address("attachment_download", made))
    assert sent.content == pdf()
    assert sent["Content-Type"] == "application/pdf"
    assert sent["Content-Disposition"] == f'attachment; filename="{made.pk}-Zertifikat.pdf"'
    assert sent["X-Content-Type-Options"] == "nosniff"
    assert "sandbox" in sent["Content-Security-Policy"] and "no-store" in sent["Cache-Control"]


def test_a_photograph_is_sent_out_as_the_clean_jpeg_that_it_became(page, machine):
    send(page, machine, picture_bytes(), name="certificate.pdf", title="Plate")
    made = Attachment.objects.get()
    assert made.was_cleaned
    sent = page.get(address("attachment_download", made))
    assert sent["Content-Type"] == "image/jpeg" and sent["Content-Disposition"].endswith('.jpg"')
    assert "as it was sent" in page.get(made.get_absolute_url()).text


@pytest.mark.parametrize("case", ["empty", "drawing renamed", "script", "bomb", "program"])
def test_a_hostile_file_is_refused_on_the_page_and_nothing_is_stored(page, machine, case):
    name, make, words = REFUSED[case]
    answer = send(page, machine, make(), name=name)
    assert answer.status_code == 200 and words in answer.text and "Nothing was saved." in answer.text
    assert not Attachment.objects.exists()


@pytest.mark.parametrize("name", ["../../etc/passwd", 'a"b;c.pdf', "x" * 3000 + ".pdf", "<script>.pdf"])
def test_a_strange_name_is_shown_as_text_and_names_nothing(page, machine, name):
    send(page, machine, pdf(), name=name)
    made = Attachment.objects.get()
    assert "/" not in made.name and len(made.name) <= 120
    assert "<script>.pdf" not in page.get(files_of(machine)).text
    disposition = page.get(address("attachment_download", made))["Content-Disposition"]
    assert set(disposition.removeprefix('attachment; filename="').removesuffix('"')) <= set(
        "abcdefghijklmnopqrstuvwxyz0123456789-."
    )


def test_a_body_that_is_larger_than_the_limit_is_refused_before_it_is_read(page, machine, settings):
    settings.ATTACHMENT_BYTES = 600_000
    answer = page.post(files_of(machine), b"x", content_type="multipart/form-data; boundary=x", CONTENT_LENGTH="700000")
    assert answer.status_code == 413 and "at most 600,000 bytes" in answer.text and "None of it was read" in answer.text


def test_a_file_that_was_altered_in_the_database_is_not_sent(page, machine, by):
    made = attach(by, machine=machine)
    with connection.cursor() as cursor:
        cursor.execute("UPDATE inspections_attachment SET content = %s", [b"other"])
    answer = page.get(address("attachment_download", made), follow=True)
    assert "It is not sent" in answer.text and "The stored file was altered" in answer.text
    assert b"other" not in answer.content.split(b"<main")[0]


def test_a_file_is_withdrawn_with_a_reason(page, machine, by):
    made = attach(by, machine=machine)
    assert page.post(address("attachment_withdraw", made), {"reason": ""}).status_code == 200
    assert Attachment.objects.in_place().exists()
    page.post(address("attachment_withdraw", made), {"reason": "Belongs to another machine"})
    text = page.get(made.get_absolute_url()).text
    assert "Belongs to another machine" in text and "Download" in text
    assert "withdrawn already" in page.get(address("attachment_withdraw", made)).text


def test_who_only_reads_may_download_but_not_attach_or_withdraw(client, machine, by):
    made = attach(by, machine=machine)
    client.force_login(make_person("auditor"))
    assert client.get(address("attachment_download", made)).status_code == 200
    assert "Attach a file" not in client.get(files_of(machine)).text
    assert send(client, machine, pdf()).status_code == 403
    assert client.post(address("attachment_withdraw", made), {"reason": "x"}).status_code == 403
    assert Attachment.objects.in_place().count() == 1


def test_somebody_of_another_site_gets_not_found(client, machine, by):
    made = attach(by, machine=machine)
    client.force_login(make_person("technician", sites=[make_site()]))
    pages = [files_of(machine), *(address(name, made) for name in ("attachment", "attachment_download"))]
    assert {client.get(one).status_code for one in pages} == {404}
    assert client.get(reverse("inspections:files", args=["nothing", machine.pk])).status_code == 404


@pytest.mark.parametrize("url", ["files", "machine_files"])
def test_the_lists_ask_a_fixed_number_of_queries(page, machine, by, url):
    def queries():
        path = files_of(machine) if url == "files" else reverse("inspections:machine_files", args=[machine.pk])
        with CaptureQueriesContext(connection) as captured:
            assert page.get(path).status_code == 200
        assert not any('"inspections_attachment"."content"' in one["sql"] for one in captured)
        return len(captured)

    component = make_component(machine)
    attach(by, machine=machine)
    attach(by, component=component)
    page.get(files_of(machine))
    few = queries()
    for number in range(12):
        attach(make_person(), f"words {number}", machine=machine)
        attach(make_person(), f"words {number}", component=component)
        withdraw_attachment(attach(by, f"gone {number}", machine=machine), reason="x", by=make_person(), at=NOON)
    assert queries() == few
