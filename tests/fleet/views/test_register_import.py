import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from fleet.acting.scope import acting
from fleet.models import Machine, RegisterUpload
from fleet.register_file import MACHINES, parse_register
from inspections.chain.verification import verify_store
from tests.factories import make_area, make_machine, make_model, make_person, make_site

IMPORT = reverse("fleet:import_register")
TEMPLATE = reverse("fleet:import_template", args=["machines", "csv"])
HEADER = "asset_number,model,site,area,built_year,in_use_from\n"
NEW = "A-1,three,north,Theatre 1,1984,1985-03-01\n"


@pytest.fixture
def place(db):
    make_model(code="three", features={"ratio-protection": "not fitted"})
    return make_area(make_site(code="north"), name="Theatre 1")


@pytest.fixture
def planner(client, place):
    person = make_person("planner")
    client.force_login(person)
    return person


def upload(client, text, name="list.csv"):
    content = text if isinstance(text, bytes) else text.encode()
    return client.post(IMPORT, {"kind": "machines", "file": SimpleUploadedFile(name, content)}, follow=True)


def confirm(client, preview):
    return client.post(
        preview.request["PATH_INFO"], {"fingerprint": preview.context["plan"]["fingerprint"]}, follow=True
    )


def test_an_upload_is_previewed_and_changes_nothing(client, planner):
    preview = upload(client, HEADER + NEW)
    assert "Import the file" in preview.content.decode()
    assert len(preview.context["plan"]["created"]) == 1
    assert not Machine.objects.exists()


def test_a_confirmed_upload_is_imported_once(client, planner):
    preview = upload(client, HEADER + NEW)
    page = confirm(client, preview).content.decode()
    assert "1 machines entered" in page
    assert Machine.objects.get().feature_states.get().by == planner
    assert confirm(client, preview).status_code == 404
    assert Machine.objects.count() == 1


@pytest.mark.real_journal
def test_what_an_import_writes_is_journaled(request, client, db):
    with acting("test"):
        request.getfixturevalue("planner")
    confirm(client, upload(client, HEADER + NEW))
    assert Machine.objects.exists() and list(verify_store()) == []


def test_the_same_file_again_has_nothing_to_import(client, planner):
    confirm(client, upload(client, HEADER + NEW))
    page = upload(client, HEADER + NEW).content.decode()
    assert "already holds all of this" in page and "Import the file" not in page


def test_differences_are_shown_beside_what_is_there(client, planner, place):
    make_machine(asset_number="A-1", area=place, built_year=1980)
    page = upload(client, "asset_number,built_year\nA-1,1984\n").content.decode()
    assert "<td>1980</td><td><b>1984</b></td>" in page


def test_every_problem_is_shown_and_nothing_can_be_confirmed(client, planner):
    preview = upload(client, HEADER + NEW.replace("1984", "84") + NEW.replace("A-1", "A-2").replace("three", "four"))
    page = preview.content.decode()
    for told in ("built_year", "84", "four digits", "four", "three", "Nothing is imported yet"):
        assert told.lower() in page.lower()
    assert "Import the file" not in page
    confirm(client, preview)
    assert not Machine.objects.exists()


@pytest.mark.parametrize(
    ("content", "told"),
    [
        (b"", "The file is empty."),
        ("asset_number,note\nA-1,é".encode("latin-1"), "not UTF-8"),
        (b"a;b\n1;2", "No row contains known column names"),
    ],
)
def test_a_file_that_cannot_be_read_says_why(client, planner, content, told):
    assert told in upload(client, content).content.decode()


def test_no_file_at_all_is_told(client, planner):
    assert "Choose a file first" in client.post(IMPORT, {}).content.decode()


def test_a_register_that_changed_since_the_preview_is_shown_anew(client, planner, place):
    preview = upload(client, HEADER + NEW)
    make_machine(asset_number="A-1", area=place, built_year=1980)
    response = confirm(client, preview)
    assert "has changed since the preview" in response.content.decode()
    assert Machine.objects.get().built_year == 1980
    confirm(client, response)
    assert Machine.objects.get().built_year == 1984


def test_a_long_list_of_problems_is_paged(client, planner):
    preview = upload(client, HEADER + "".join(f"A-{n},four,north,Theatre 1,1984,1985-03-01\n" for n in range(120)))
    assert (len(preview.context["page"]), preview.context["page"].paginator.count) == (50, 120)
    path = preview.request["PATH_INFO"]
    last = client.get(path, {"show": "problems", "page": "3"}).context["page"]
    assert [problem[0] for problem in last] == list(range(102, 122))


def test_an_upload_is_seen_by_the_person_who_made_it_only(client, planner):
    path = upload(client, HEADER + NEW).request["PATH_INFO"]
    client.force_login(make_person("planner"))
    assert client.get(path).status_code == 404
    assert client.post(path, {}).status_code == 404


def test_a_person_of_another_site_cannot_import_into_this_one(client, place):
    client.force_login(make_person("planner", sites=[make_area().site]))
    preview = upload(client, HEADER + NEW)
    assert [column for _, column, *_ in preview.context["plan"]["problems"]] == ["site"]


def test_importing_is_for_planners(client, place):
    kept = RegisterUpload.objects.create(
        name="x", content=b"x", by=make_person("planner"), uploaded_at="2026-11-02T12:00Z"
    )
    for group in ("technician", "manager", "auditor"):
        client.force_login(make_person(group))
        for url in (IMPORT, kept.get_absolute_url()):
            assert client.post(url, {}).status_code == 403
        assert client.get(TEMPLATE).status_code == 403


def test_import_pages_take_no_other_method(client, planner):
    path = upload(client, HEADER + NEW).request["PATH_INFO"]
    assert [client.put(url).status_code for url in (IMPORT, path)] == [405, 405]
    assert client.post(TEMPLATE).status_code == 405


def test_the_template_has_every_column_and_reads_as_a_register(client, planner):
    content = client.get(TEMPLATE).content
    assert content.decode("utf-8-sig").strip() == ",".join(MACHINES.header)
    assert [p.message for p in parse_register(content).problems] == ["The file lists no machine."]


def test_the_register_as_it_is_can_be_imported_and_changes_nothing(client, planner):
    confirm(client, upload(client, HEADER + NEW))
    content = client.get(reverse("fleet:register_csv")).content
    assert "already holds all of this" in upload(client, content).content.decode()
