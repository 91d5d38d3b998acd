"""A person's data can be exported, and removed where no record needs it."""

import json
from datetime import timedelta
from io import StringIO
from pathlib import Path

import pytest
from axes.models import AccessAttempt
from django.apps import apps
from django.contrib.sessions.models import Session
from django.core.files.base import ContentFile
from django.core.management import CommandError, call_command
from django.db import IntegrityError, connection
from django.test import Client
from django.urls import reverse
from django_otp.plugins.otp_static.models import StaticDevice
from django_otp.plugins.otp_totp.models import TOTPDevice

from fleet.actions import add_person, change_person, password_link, remove_person, unlock_person
from fleet.errors import PersonRefused
from fleet.models import ApiToken, ChangeEntry, Digest, Job, Person, RegisterUpload
from fleet.people.personal_data import Treatment, personal_data, references, relations, removal_plan, undeclared
from tests.factories import NOON, PASSWORD, TODAY, ask_for_token, make_machine, make_person, make_site
from tests.inspections.scenes import make_scene

CHIEF = "planner-in-chief"
ADDRESS = "rui.serra@hospital.example"
LATER = NOON + timedelta(days=1)


@pytest.fixture
def data_dir(settings, tmp_path):
    settings.DATA_DIR = tmp_path / "data"
    return settings.DATA_DIR


@pytest.fixture
def chief(db, data_dir):
    return make_person(CHIEF, username="chief")


def everything_about(person):
    """Give a person data of every kind that no record needs; return its secrets and the file of a job."""
    asked = ask_for_token(person, name=f"Program of {person.username}")
    ApiToken.objects.filter(pk=asked.pk).update(digest="d" * 64, predates_confirmation=True)  # not confirmed: no record
    factor = TOTPDevice.objects.create(user=person, confirmed=True)
    codes = StaticDevice.objects.create(user=person)
    codes.token_set.create(token="recover1")
    Digest.objects.create(person=person, on=TODAY, begun_at=NOON)
    job = Job.objects.create(kind="plan-due", title="Work", key="k", by=person, asked_at=NOON, cancel_asked_by=person)
    job.file.save("1.zip", ContentFile(b"x"))
    RegisterUpload.objects.create(name="a.csv", content=b"secret content", by=person, uploaded_at=NOON)
    Client().force_login(person)  # which removes earlier attempts
    AccessAttempt.objects.create(
        username=person.username, ip_address="192.0.2.1", user_agent="x", failures_since_start=1
    )
    person.refresh_from_db()
    [session] = Session.objects.all()[:1]
    token = ApiToken.objects.get(owner=person)
    return [token.digest, factor.key, "recover1", person.password, session.pk, "secret content"], job.file.path


def make_rui(**fields):
    return add_person(username="rui", first_name="Rui", last_name="Serra", email=ADDRESS, by=None, at=NOON, **fields)


def stored_text(*, but=()):
    """Return all text in the database, except in the tables `but`."""
    parts = []
    with connection.cursor() as cursor:
        for table in set(connection.introspection.table_names(cursor)) - set(but):
            cursor.execute(f'SELECT * FROM "{table}"')
            parts += [str(row) for row in cursor.fetchall()]
    return "\n".join(parts)


def technician(**fields):
    person = make_rui(**fields)
    person.groups.add(*make_person("technician").groups.all())
    return person


def test_every_relation_to_a_person_is_declared_with_its_reason(db):
    assert undeclared() == []
    assert [one for one in references() if one.treatment is Treatment.KEPT and not one.reason] == []
    assert len(references()) == len(set(relations())) > 30


def test_the_walk_finds_every_foreign_key_of_every_model(db):
    """Counted from the fields of the models, independently of Django's list of relations."""
    fields = {
        (model, field.name)
        for model in apps.get_models(include_auto_created=True)
        for field in model._meta.local_fields
        if field.is_relation and field.related_model is Person
    }
    assert fields == set(relations())


def test_an_account_that_no_record_names_is_deleted_with_all_that_is_its_own(chief, django_capture_on_commit_callbacks):
    person = technician(sites=[make_site()])
    _, path = everything_about(person)
    key = person.pk
    with django_capture_on_commit_callbacks(execute=True):
        plan = remove_person(person, by=chief, at=LATER)
    assert plan.is_deleted and not Person.objects.filter(pk=key).exists()
    assert ADDRESS not in stored_text() and "rui" not in stored_text(but=["fleet_changeentry"])
    for rows in (TOTPDevice, StaticDevice, Digest, Job, RegisterUpload, AccessAttempt, ApiToken, Session):
        assert not rows.objects.exists(), rows
    assert not Path(path).exists()


def test_an_account_that_records_name_is_closed_for_ever_and_they_still_verify(chief, tmp_path):
    scene = make_scene(tmp_path)
    person = scene.technician
    Person.objects.filter(pk=person.pk).update(email=ADDRESS)
    scene.complete()
    record = scene.sign()
    everything_about(person)
    name = str(person)
    plan = remove_person(person, by=chief, at=LATER)
    assert {"Readings entered", "Inspections signed"} <= {line.words for line in plan.stays if line.reason}
    person = Person.objects.get(pk=person.pk)
    assert (person.is_active, person.email, person.has_usable_password(), person.closed_at) == (False, "", False, LATER)
    assert (str(person), record.signed_by) == (name, person) and not person.groups.exists()
    assert ADDRESS not in stored_text()
    for rows in (TOTPDevice, StaticDevice, Digest, Job, RegisterUpload, AccessAttempt, ApiToken, Session):
        assert not rows.objects.exists(), rows
    out = StringIO()
    call_command("verify_records", stdout=out)
    assert "1 records" in out.getvalue() and "all as signed" in out.getvalue()


def closed(chief):
    person = technician()
    make_machine(by=person)
    remove_person(person, by=chief, at=LATER)
    return Person.objects.get(pk=person.pk)


@pytest.mark.parametrize(
    "act",
    [
        lambda person, by: unlock_person(person, by=by, at=LATER),
        lambda person, by: password_link(person, by=by, at=LATER),
        lambda person, by: remove_person(person, by=by, at=LATER),
        lambda person, by: change_person(person, groups=[], sites=[], email="new@x.example", by=by, at=LATER),
    ],
)
def test_nothing_opens_a_closed_account_again(chief, act):
    with pytest.raises(PersonRefused, match="permanently closed"):
        act(closed(chief), chief)


def test_the_database_itself_refuses_to_open_a_closed_account(chief):
    with pytest.raises(IntegrityError):
        Person.objects.filter(pk=closed(chief).pk).update(is_active=True)


def test_who_removed_an_account_and_when_stays_readable(chief, client):
    person = technician()
    remove_person(person, by=chief, at=LATER)
    entry = ChangeEntry.objects.filter(record="person").first()
    assert (entry.by, entry.at, entry.after) == (chief, LATER, {"Account": "deleted"})
    client.force_login(chief)
    page = client.get(reverse("fleet:changes", args=["person", entry.record_pk])).content.decode()
    assert "deleted since" in page and "rui" in page
    client.force_login(make_person(CHIEF, sites=[make_site()]))
    assert client.get(reverse("fleet:changes", args=["person", entry.record_pk])).status_code == 404


def test_nobody_removes_themselves_and_the_last_in_chief_stays(chief):
    with pytest.raises(PersonRefused, match="your own account"):
        remove_person(chief, by=chief, at=LATER)
    with pytest.raises(PersonRefused, match="Nobody would be left"):
        remove_person(chief, by=None, at=LATER)
    assert Person.objects.filter(pk=chief.pk, closed_at=None).exists()


def test_somebody_of_another_site_cannot_be_removed(chief):
    narrowed = make_person(CHIEF, sites=[make_site()])
    with pytest.raises(PersonRefused, match="You may not manage the account"):
        remove_person(technician(), by=narrowed, at=LATER)


def test_what_was_shown_is_what_is_done(chief):
    person = technician()
    everything_about(person)
    assert removal_plan(person) == remove_person(person, by=chief, at=LATER)


def test_the_export_holds_all_of_a_person_and_no_secret(chief, tmp_path):
    scene = make_scene(tmp_path)
    person = scene.technician
    Person.objects.filter(pk=person.pk).update(email=ADDRESS)
    scene.complete()
    scene.sign()
    secrets, _ = everything_about(person)
    text = json.dumps(personal_data(person), default=str)
    told = json.loads(text)
    assert [secret for secret in secrets if secret in text] == []
    assert told["account"]["email"] == ADDRESS and told["account"]["groups"] == ["technician"]
    assert told["second_factor"] == {"is_set_up": True, "recovery_codes_left": 1} and told["sessions"] == 1
    assert told["attempts_to_sign_in"][0]["ip_address"] == "192.0.2.1"
    rows = {name: one["rows"] for name, one in told["records"].items()}
    assert rows["inspections.inspection.signed_by"][0]["id"] == scene.inspection.pk
    assert "45" in {row["as_read"] for row in rows["inspections.reading.entered_by"]}
    assert rows["fleet.job.by"][0]["title"] == "Work" and rows["fleet.apitoken.owner"][0]["name"].startswith("Program")


class TestPages:
    def url(self, name, person):
        return reverse(f"fleet:{name}", args=[person.pk])

    def test_the_page_shows_what_goes_and_stays_and_asks_for_the_password(self, client, chief):
        client.force_login(chief)
        person = technician()
        make_machine(by=person)
        page = client.get(self.url("person_remove", person)).content.decode()
        assert "Changes of the status of machines" in page and "closed permanently" in page and "Your password" in page
        page = client.post(self.url("person_remove", person), {"password": "wrong"}).content.decode()
        assert "not the password" in page and Person.objects.filter(pk=person.pk, closed_at=None).exists()
        answer = client.post(self.url("person_remove", person), {"password": PASSWORD}, follow=True)
        assert "permanently closed" in answer.content.decode() and Person.objects.get(pk=person.pk).is_closed
        assert "closed permanently" in client.get(self.url("person", person)).content.decode().lower()

    def test_own_data_are_sent_to_everybody_who_is_signed_in(self, client, db):
        person = make_person(email=ADDRESS)
        client.force_login(person)
        assert "Download your data" in client.get(reverse("fleet:own_data")).content.decode()
        answer = client.get(reverse("fleet:own_data_file"))
        assert "attachment" in answer["Content-Disposition"] and "no-store" in answer["Cache-Control"]
        assert answer.json()["account"]["email"] == ADDRESS

    def test_of_somebody_else_they_are_sent_to_a_planner_in_chief_alone(self, client, chief):
        person = technician()
        client.force_login(make_person("planner", "technician", "manager", "auditor"))
        assert client.get(self.url("person_data_file", person)).status_code == 403
        assert client.post(self.url("person_remove", person), {"password": PASSWORD}).status_code == 403
        client.force_login(chief)
        assert client.get(self.url("person_data_file", person)).json()["account"]["username"] == "rui"

    def test_of_another_site_nothing_is_found(self, client, db):
        client.force_login(make_person(CHIEF, sites=[make_site()]))
        person = technician()
        for name in ("person_data_file", "person_remove"):
            assert client.get(self.url(name, person)).status_code == 404


class TestCommand:
    def run(self, *words):
        out = StringIO()
        call_command("person", *words, stdout=out)
        return out.getvalue()

    def test_exports_to_a_file_of_its_owner_or_to_the_output(self, chief, tmp_path):
        technician()
        self.run("export", "rui", "--out", str(tmp_path / "rui.json"))
        assert json.loads((tmp_path / "rui.json").read_text()) == json.loads(self.run("export", "rui"))
        assert (tmp_path / "rui.json").stat().st_mode & 0o077 == 0

    def test_removes_only_when_told_twice(self, chief):
        technician()
        assert "would be deleted" in self.run("remove", "rui") and Person.objects.filter(username="rui").exists()
        assert "is deleted" in self.run("remove", "rui", "--yes") and not Person.objects.filter(username="rui").exists()

    def test_refuses_the_last_in_chief_in_a_sentence(self, chief):
        with pytest.raises(CommandError, match="Nobody would be left"):
            self.run("remove", "chief", "--yes")


def test_what_is_refused_removes_nothing(chief):
    chief.groups.add(*make_person("technician").groups.all())
    everything_about(chief)
    before = stored_text()
    with pytest.raises(PersonRefused):
        remove_person(chief, by=None, at=LATER)
    assert stored_text() == before
