"""How a file is read: asked, corrected, remembered; its problems beside the rows; large files in the background."""

import io

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from django.utils import timezone
from openpyxl import load_workbook

from fleet.imports import jobs
from fleet.jobs.running import run_waiting_jobs
from fleet.models import ColumnMapping, EarlierInspection, Job, Machine, RegisterUpload
from fleet.register_file import KINDS
from tests.factories import load_all_procedures, make_area, make_machine, make_model, make_person, make_site

IMPORT = reverse("fleet:import_register")
HEADER = "Tag No;Type;Hospital;Location;Commissioned;Price\n"
ROWS = "A-1;three;north;Theatre 1;03/04/1985;9\nA-2;three;north;Theatre 1;05/06/1991;9\n"


@pytest.fixture
def place(db):
    make_model(code="three", features={"ratio-protection": "not fitted"})
    return make_area(make_site(code="north"), name="Theatre 1")


@pytest.fixture
def planner(client, place):
    person = make_person("planner")
    client.force_login(person)
    return person


def upload(client, content, name="list.csv", kind="machines"):
    content = content if isinstance(content, bytes) else content.encode()
    return client.post(IMPORT, {"kind": kind, "file": SimpleUploadedFile(name, content)}, follow=True)


def sent(page, **said):
    """Return the fields that the reading page sends, with some choices."""
    return {name: value or "" for name, value in ((f.name, f.value()) for f in page.context["form"])} | said


def say(client, page, **said):
    return client.post(page.request["PATH_INFO"], sent(page, **said), follow=True)


def test_the_page_to_upload_shows_no_error_before_anything_is_sent(client, planner):
    page = client.get(IMPORT)
    assert page.context["form"].errors == {}
    assert "Choose a file first" not in page.content.decode()


def test_headers_and_dates_that_could_be_meant_otherwise_are_asked_for(client, planner):
    page = upload(client, HEADER + ROWS)
    text = page.content.decode()
    assert page.request["PATH_INFO"].endswith("/reading/")
    for told in ("“Tag No” as asset_number", "“Price”", "day first or month first", "03/04/1985 in row 2"):
        assert told in text
    assert not Machine.objects.exists()


def test_nothing_goes_on_until_every_question_is_answered(client, planner):
    page = say(client, upload(client, HEADER + ROWS))
    assert set(page.context["form"].errors) == {"date_order", "column_5"}


def test_what_is_said_is_used_and_the_columns_are_remembered_for_the_same_headers(client, planner):
    preview = say(client, upload(client, HEADER + ROWS), date_order="day", column_5="-")
    assert "“Price”" in preview.content.decode()
    assert preview.context["plan"]["created"][0]["cells"][5] == "1985-04-03"
    assert ColumnMapping.objects.get().by == planner
    again = upload(client, HEADER + ROWS)
    assert {column["how"] for column, _ in again.context["form"].columns()} == {"remembered"}
    assert [question["about"] for question in again.context["reading"]["questions"]] == ["dates"]


def test_one_column_of_the_register_is_given_once(client, planner):
    page = say(client, upload(client, HEADER + ROWS), date_order="day", column_5="model")
    assert "Only one column can be" in page.content.decode()


def test_another_shape_is_read_again_before_anything_else(client, planner):
    page = upload(client, "Equipment\n" + HEADER + ROWS)
    assert page.context["reading"]["header_row"] == 2
    page = say(client, page, header_row=3)
    assert page.context["reading"]["columns"][0]["label"] == "A-1"


def test_text_that_is_not_utf8_is_asked_for_with_words_to_judge_by(client, planner):
    make_area(place_site(), name="Théâtre 2")
    text = "asset_number,model,site,area,in_use_from\nA-1,three,north,Théâtre 2,1985-03-01\n"
    page = upload(client, text.encode("latin-1"))
    assert "Théâtre" in page.content.decode()
    page = say(client, page, encoding="latin-1")
    assert page.context["reading"]["encoding"] == "latin-1"
    assert say(client, page).context["plan"]["is_ready"]


def place_site():
    return Machine._meta.get_field("area").related_model.objects.get().site


@pytest.mark.parametrize("fmt", ["csv", "xlsx"])
def test_the_problems_stand_beside_the_rows_of_the_file(client, planner, fmt):
    header = "asset_number,serial,model,site,area,in_use_from\n"
    preview = upload(
        client, header + "A-1,=1+1,four,north,Theatre 1,1985-03-01\nA-2,,three,north,Theatre 1,1985-03-01\n"
    )
    pk = preview.context["upload"].pk
    content = client.get(reverse("fleet:import_problems", args=[pk, fmt])).content
    rows = _rows(content) if fmt == "xlsx" else [line.split(",") for line in content.decode("utf-8-sig").splitlines()]
    assert rows[0][-2:] == ["row in the file", "problems"]
    assert rows[1][1] == "'=1+1"
    assert "is not a machine model" in rows[1][7] and str(rows[1][6]) == "2"
    assert not rows[2][7]
    mended = upload(client, content.replace(b"four", b"three") if fmt == "csv" else content, name=f"problems.{fmt}")
    assert mended.request["PATH_INFO"].endswith(f"/{mended.context['upload'].pk}/")


def _rows(content):
    return [list(row) for row in load_workbook(io.BytesIO(content)).active.iter_rows(values_only=True)]


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("fmt", ["csv", "xlsx"])
def test_templates_and_exports_of_every_kind_have_the_columns_of_the_kind(client, planner, kind, fmt):
    make_machine()
    for name in ("fleet:import_template", "fleet:register_export"):
        content = client.get(reverse(name, args=[kind, fmt])).content
        first = _rows(content)[0] if fmt == "xlsx" else content.decode("utf-8-sig").splitlines()[0].split(",")
        assert first == list(KINDS[kind].header)
        assert client.get(reverse(name, args=[kind, "pdf"])).status_code == 404
        assert client.get(reverse(name, args=["people", fmt])).status_code == 404


def test_an_export_asks_as_many_queries_for_many_machines_as_for_few(client, planner, django_assert_num_queries):
    for count in (3, 30):
        for _ in range(count):
            make_machine()
        with django_assert_num_queries(9):
            client.get(reverse("fleet:register_export", args=["machines", "csv"]))


def test_earlier_inspections_are_shown_as_recorded_elsewhere_and_count_unless_told_otherwise(client, planner, place):
    load_all_procedures()
    machine = make_machine(asset_number="M-1", area=place)
    text = "asset_number,done_on,procedure,result\nM-1,2025-11-03,Annual service,Pass\n"
    reading = upload(client, text, kind="earlier-inspections")
    assert reading.context["form"]["counts_as"].value() == "yearly"
    preview = say(client, reading)
    confirm = {"fingerprint": preview.context["plan"]["fingerprint"]}
    client.post(preview.request["PATH_INFO"], confirm, follow=True)
    one = EarlierInspection.objects.get()
    assert (one.counts_as, one.source, one.by) == ("yearly", "list.csv", planner)
    assert "Annual service (recorded elsewhere)" in client.get(machine.get_absolute_url()).content.decode()


def test_a_large_file_is_read_and_imported_in_the_background_and_told_with_its_progress(client, planner, monkeypatch):
    monkeypatch.setattr("fleet.imports.jobs.LARGE_BYTES", 10)
    header = "asset_number,model,site,area,in_use_from\n"
    upload(client, header + "".join(f"A-{n},three,north,Theatre 1,1985-03-01\n" for n in range(3)))
    run_waiting_jobs(clock=timezone.now, pulse=False)
    check = Job.objects.get(kind=jobs.CHECK)
    assert (check.stage, "3 to enter" in check.result) == ("done", True)
    preview = client.get(check.link)
    client.post(check.link, {"fingerprint": preview.context["plan"]["fingerprint"]})
    assert not Machine.objects.exists()
    run_waiting_jobs(clock=timezone.now, pulse=False)
    job = Job.objects.get(kind=jobs.IMPORT)
    assert (job.stage, Machine.objects.count(), job.done) == ("done", 3, 3)
    assert "3 machines entered" in job.result


def test_a_large_import_that_is_overtaken_changes_nothing_and_says_so(client, planner, place, monkeypatch):
    monkeypatch.setattr("fleet.imports.jobs.LARGE_BYTES", 10)
    upload(client, "asset_number,model,site,area,in_use_from\nA-1,three,north,Theatre 1,1985-03-01\n")
    run_waiting_jobs(clock=timezone.now, pulse=False)
    link = Job.objects.get().link
    fingerprint = client.get(link).context["plan"]["fingerprint"]
    make_machine(asset_number="A-1", area=place, built_year=1980)
    client.post(link, {"fingerprint": fingerprint})
    run_waiting_jobs(clock=timezone.now, pulse=False)
    job = Job.objects.get(kind=jobs.IMPORT)
    assert (job.stage, "has changed since the preview" in job.error) == ("failed", True)
    assert RegisterUpload.objects.get().imported_at is None


def test_reading_and_problems_are_for_the_person_who_uploaded(client, planner):
    pk = RegisterUpload.objects.get(pk=upload(client, HEADER + ROWS).context["upload"].pk).pk
    client.force_login(make_person("planner"))
    for url in (reverse("fleet:import_reading", args=[pk]), reverse("fleet:import_problems", args=[pk, "csv"])):
        assert client.get(url).status_code == 404
        client.force_login(make_person("technician"))
        assert client.get(url).status_code == 403
        client.force_login(make_person("planner"))
