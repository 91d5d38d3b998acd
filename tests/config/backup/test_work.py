"""A backup is restored row for row, on the database of the suite; what cannot be done is reported and undone."""

import gzip
import json
import stat
import tarfile
from datetime import timedelta
from hashlib import sha256
from inspect import getclosurevars
from io import BytesIO, StringIO
from pathlib import Path

import pytest
from django.apps import apps
from django.core.management import CommandError, call_command
from django.db import connection
from django.db.backends.base.base import BaseDatabaseWrapper
from django.db.models import BinaryField
from hypothesis import HealthCheck, given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st

from config.backup import (
    ArchiveError,
    Manifest,
    compare,
    manifest_of,
    open_archive,
    settings_of_url,
    temporary_connection,
    temporary_database,
)
from config.backup import databases as backup_databases
from fleet.acting.scope import settle
from fleet.models import JournalHead, Machine
from inspections.actions import add_photograph, countersign_inspection
from inspections.chain.verification import verify_store
from inspections.models import Attachment, ChainEntry, Photograph, Reading
from tests.factories import NOON
from tests.fleet.photographs.pictures import clean_picture
from tests.inspections.attachments.rows import attach
from tests.inspections.scenes import make_scene


@pytest.fixture
def data_dir(settings, tmp_path):
    settings.DATA_DIR = tmp_path / "data"
    (settings.DATA_DIR / "jobs").mkdir(parents=True)
    (settings.DATA_DIR / "secret_key").write_text("key")
    (settings.DATA_DIR / "jobs" / "1.zip").write_bytes(b"\0\1")
    (settings.DATA_DIR / "screenshots").mkdir()
    return settings.DATA_DIR


@pytest.fixture
def any_connection(transactional_db, monkeypatch):
    """Lift the guard against connections that the test did not declare: here they are made and named by the code."""
    guarded = BaseDatabaseWrapper.ensure_connection
    real = getclosurevars(guarded).nonlocals["real_ensure_connection"]
    monkeypatch.setattr(BaseDatabaseWrapper, "ensure_connection", real)


@pytest.fixture
def filled(any_connection, data_dir, tmp_path):
    """A database with a countersigned record, a photograph and an attached file, and its backup."""
    scene = make_scene(tmp_path)
    scene.complete()
    add_photograph(scene.step(), clean_picture(), by=scene.technician, at=NOON)
    countersign_inspection(scene.sign(), by=scene.other, at=NOON + timedelta(hours=2))
    attach(scene.technician, "Letter of the works", machine=scene.machine)
    settle()
    command("backup", str(tmp_path / "all.backup"))
    return tmp_path / "all.backup"


@pytest.fixture
def empty_url(filled):
    """DATABASE_URL of an empty database of the kind that the suite runs on."""
    with temporary_database(connection.settings_dict) as target:
        if connection.vendor == "sqlite":
            yield f"sqlite:///{target['NAME']}"
        else:
            yield "postgres://{USER}:{PASSWORD}@{HOST}:{PORT}/{NAME}".format(**target)


def command(*arguments):
    out = StringIO()
    call_command(*arguments, stdout=out)
    return out.getvalue()


def refusal(*arguments, case=""):
    """Return the output of a command that must fail, and its exit code; `case` names it where it does not."""
    try:
        said = command(*arguments)
    except CommandError as error:
        return str(error), error.returncode
    pytest.fail(f"{arguments[0]} is not refused{case and ' for ' + case}: {said}")


def is_untouched(url):
    """Return whether the database is still empty: a file of SQLite does not exist yet."""
    settings = settings_of_url(url)
    if connection.vendor == "sqlite":
        return not Path(settings["NAME"]).exists()
    with temporary_connection(settings) as target:
        return target.introspection.table_names() == []


def test_a_backup_is_for_its_owner_only_and_lists_what_it_holds(filled):
    assert stat.S_IMODE(filled.stat().st_mode) == 0o600
    with tarfile.open(filled) as archive:
        manifest = json.load(archive.extractfile("manifest.json"))
        names = archive.getnames()
    assert manifest["tables"]["inspections_chainentry"]["rows"] == 2
    assert manifest["chains"][0].endswith(ChainEntry.objects.last().digest)
    assert manifest["chains"][-1].endswith(JournalHead.objects.get().digest)
    assert {"files/secret_key", "files/jobs/1.zip"} < set(names) and not any("screenshots" in name for name in names)
    assert sorted(path.name for path in filled.parent.iterdir() if "backup" in path.name) == ["all.backup"]


def is_of_bytes(field):
    return isinstance(field, BinaryField)


def test_pictures_are_read_a_few_at_a_time(filled, monkeypatch):
    asked = {}

    class Counting:
        def __init__(self):
            self.cursor = connection.cursor()

        def __enter__(self):
            return self

        def __exit__(self, *_):
            self.cursor.close()

        def execute(self, sql):
            self.sql = sql
            self.cursor.execute(sql)

        def fetchmany(self, number):
            asked[self.sql.rpartition(" FROM ")[2].split('"')[1]] = number
            return self.cursor.fetchmany(number)

    with monkeypatch.context() as patch:
        patch.setattr(connection, "chunked_cursor", Counting)
        manifest_of(connection)
    few = {model._meta.db_table for model in apps.get_models() if any(map(is_of_bytes, model._meta.concrete_fields))}
    assert {name for name, number in asked.items() if number == 20} == few >= {"inspections_photograph"}
    assert {asked[name] for name in asked.keys() - few} == {2000}


def test_a_backup_restores_row_for_row_and_its_chains_verify(filled, empty_url, tmp_path):
    said = command("restore", str(filled), "--into", empty_url, "--data-dir", str(tmp_path / "new"))
    assert "each table as in the backup" in said
    assert (tmp_path / "new" / "secret_key").read_text() == "key"
    with temporary_connection(settings_of_url(empty_url)) as restored:
        assert Machine.objects.using(restored.alias).get() == Machine.objects.get()
        picture = Photograph.objects.using(restored.alias).with_pictures().get().content
        assert bytes(picture) == clean_picture().content
        attached = Attachment.objects.using(restored.alias).with_content().get()
        assert bytes(attached.content) == b"Letter of the works" and attached.digest == attached.received_digest
        assert list(verify_store(using=restored.alias)) == []
        assert compare(manifest_of(connection), manifest_of(restored)) == []
        Reading.objects.using(restored.alias).filter(as_read="45").update(as_read="46")
        [difference] = compare(manifest_of(connection), manifest_of(restored))
    assert difference.startswith("inspections_reading:")


def test_a_database_that_holds_tables_is_refused_unless_it_is_to_be_replaced(filled, empty_url):
    command("restore", str(filled), "--into", empty_url)
    said, code = refusal("restore", str(filled), "--into", empty_url)
    assert code == 2 and "tables already" in said
    with temporary_connection(settings_of_url(empty_url)) as newer, newer.cursor() as cursor:
        cursor.execute("CREATE TABLE newer (id bigint PRIMARY KEY, site bigint REFERENCES fleet_site (id))")
    assert "each table as in the backup" in command("restore", str(filled), "--into", empty_url, "--replace")


def test_the_drill_prints_the_proof(filled):
    said = command("restore_drill")
    assert "1 records, 2 entries of 1 chains verified" in said and "Passed" in said
    [line] = [line for line in said.splitlines() if line.startswith("inspections_reading ")]
    _, rows, backup, restored = line.split()
    assert int(rows) == Reading.objects.count() and backup == restored


def test_the_drill_fails_for_a_store_that_was_altered(filled, tmp_path):
    Reading.objects.filter(as_read="45").update(as_read="46")
    said, code = refusal("restore_drill")
    assert code == 1 and "as_read: expected 45, found 46" in said


def test_a_damaged_backup_is_refused_before_anything_is_restored(filled, empty_url):
    data = bytearray(filled.read_bytes())
    data[len(data) // 2] ^= 0xFF
    filled.write_bytes(data)
    said, code = refusal("restore", str(filled), "--into", empty_url)
    assert code == 2 and ("damaged" in said or "cannot be read as a backup" in said)
    assert is_untouched(empty_url)


def rewritten(backup, change):
    """The backup, packed anew after `change` had its members (name -> content) and its manifest; digests agree."""
    with tarfile.open(backup) as archive:
        members = {one.name: archive.extractfile(one).read() for one in archive}
    manifest = json.loads(members.pop("manifest.json"))
    members, manifest = change(members, manifest) or (members, manifest)
    told = json.dumps(manifest).encode()
    with tarfile.open(backup, "w:gz") as archive:
        for name, content in {"manifest.json": told, **members}.items():
            member = tarfile.TarInfo(name)
            member.size = len(content)
            archive.addfile(member, BytesIO(content))


def agreeing(members, manifest, **added):
    """With further members that the manifest names."""
    parts = {**manifest["parts"], **{name: sha256(content).hexdigest() for name, content in added.items()}}
    return {**members, **added}, {**manifest, "parts": parts}


def one_row_more(members, manifest):
    manifest["tables"]["inspections_reading"]["rows"] += 1


def no_table(members, manifest):
    del manifest["tables"]["inspections_reading"]


def garbage_inside(members, manifest):
    [name] = [name for name in members if name.startswith("database.")]
    return agreeing(members, manifest, **{name: with_garbage(members[name])})


def with_garbage(content):
    """The middle half overwritten: a few thousand octets could fall on pages of SQLite that hold nothing."""
    quarter = len(content) // 4
    return content[:quarter] + b"garbage!" * (quarter // 4) + content[-quarter:]


LIES = {
    "a path that climbs out": lambda m, t: agreeing(m, t, **{"files/../../evil": b"x"}),
    "an absolute path": lambda m, t: agreeing(m, t, **{"/tmp/evil": b"x"}),
    "a file that is not Bobbin's": lambda m, t: agreeing(m, t, **{"files/bobbin.sqlite3": b"x"}),
    "a folder below jobs": lambda m, t: agreeing(m, t, **{"files/jobs/../secret_key": b"x"}),
    "a file that the manifest does not name": lambda m, t: ({**m, "files/jobs/2.zip": b"x"}, t),
    "one file less": lambda m, t: ({n: c for n, c in m.items() if n != "files/secret_key"}, t),
    "no copy of the database": lambda m, t: ({}, {**t, "parts": {}}),
    "another engine": lambda m, t: (m, {**t, "engine": "oracle"}),
    "parts that are a list": lambda m, t: (m, {**t, "parts": list(t["parts"])}),
    "tables that are no tables": lambda m, t: (m, {**t, "tables": {"x": 1}}),
    "no tables": lambda m, t: (m, {**t, "tables": {}}),
    "another format": lambda m, t: (m, {**t, "format": 2}),
    "a manifest that is a list": lambda m, t: (m, [t]),
    "one row more than there is": one_row_more,
    "one table less than there is": no_table,
    "garbage in the copy": garbage_inside,
    "a migration of a newer version": lambda m, t: (m, {**t, "migrations": [*t["migrations"], "fleet.9999_later"]}),
}


def test_a_backup_that_lies_or_brings_other_files_is_refused_before_anything_is_touched(filled, empty_url):
    original, folder = filled.read_bytes(), filled.parent / "new" / "data"
    for what, change in LIES.items():
        filled.write_bytes(original)
        rewritten(filled, change)
        said, code = refusal("restore", str(filled), "--into", empty_url, "--data-dir", str(folder), case=what)
        assert (code, said.endswith("."), folder.exists()) == (2, True, False), (what, said)
        assert is_untouched(empty_url), what
    assert not list(Path("/tmp").glob("evil")) and not list(filled.parent.rglob("evil"))


@given(data=st.data())
@hypothesis_settings(max_examples=30, suppress_health_check=list(HealthCheck))
def test_a_file_that_is_no_backup_is_refused_in_a_sentence(tmp_path_factory, data):
    path = tmp_path_factory.mktemp("any") / "x.backup"
    content = data.draw(st.binary(max_size=200))
    path.write_bytes(gzip.compress(content) if data.draw(st.booleans()) else content)
    with pytest.raises(ArchiveError, match="cannot be read as a backup"), open_archive(path):
        pass


@pytest.mark.parametrize("cut", [0, 1, 100, 1000, -1000, -9])
def test_a_truncated_backup_is_refused(filled, cut, empty_url):
    filled.write_bytes(filled.read_bytes()[:cut])
    said, code = refusal("restore", str(filled), "--into", empty_url)
    assert code == 2 and "cannot be read as a backup" in said and is_untouched(empty_url)


def test_a_backup_of_an_older_version_says_to_migrate(filled, empty_url):
    def older(members, manifest):
        manifest["migrations"].remove("axes.0001_initial")

    rewritten(filled, older)
    with pytest.raises(CommandError, match="migrations: differs in axes.0001_initial"):
        command("restore", str(filled), "--into", empty_url)
    expected = Manifest("sqlite", {}, [], ["fleet.0001_first"])
    assert "inspections.0001_first" in expected.missing_migrations and expected.unknown_migrations == []


@pytest.mark.parametrize(
    ("arguments", "sentence"),
    [
        (("backup", "{backup}"), "exists already"),
        (("backup", "{folder}/none/x"), "is no folder"),
        (("restore", "{folder}/none"), "cannot be read as a backup"),
        (("restore", "{backup}", "--into", "mysql://host/name"), "names no database"),
    ],
)
def test_what_cannot_be_done_is_said(filled, arguments, sentence):
    names = {"backup": filled, "folder": filled.parent}
    said, code = refusal(*(argument.format(**names) for argument in arguments))
    assert code == 2 and sentence in said


def test_a_missing_program_is_named_with_its_package(monkeypatch):
    monkeypatch.setattr(backup_databases.shutil, "which", lambda name: None)
    with pytest.raises(backup_databases.BackupError, match="pg_dump is not installed.*postgresql-client"):
        backup_databases.find_program("pg_dump")
