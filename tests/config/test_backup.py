"""A backup comes back row for row, on the database that the suite runs on; what cannot be done is said and undone."""

import json
import stat
import tarfile
from datetime import timedelta
from inspect import getclosurevars
from io import StringIO

import pytest
from django.core.management import CommandError, call_command
from django.db import connection
from django.db.backends.base.base import BaseDatabaseWrapper

from config.backup import compare, manifest_of, settings_of_url, temporary_connection, temporary_database
from config.backup import databases as backup_databases
from fleet.journal.scope import settle
from fleet.models import JournalHead, Machine
from inspections.actions import countersign_inspection
from inspections.chain.verification import verify_store
from inspections.models import ChainEntry, Reading
from tests.factories import NOON
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
    """A database with a countersigned record, and its backup."""
    scene = make_scene(tmp_path)
    scene.complete()
    countersign_inspection(scene.sign(), by=scene.other, at=NOON + timedelta(hours=2))
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


def refusal(*arguments):
    """What a command that must fail said, and its exit code."""
    with pytest.raises(CommandError) as refused:
        command(*arguments)
    return str(refused.value), refused.value.returncode


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


def test_a_backup_restores_row_for_row_and_its_chains_verify(filled, empty_url, tmp_path):
    said = command("restore", str(filled), "--into", empty_url, "--data-dir", str(tmp_path / "new"))
    assert "each table as in the backup" in said
    assert (tmp_path / "new" / "secret_key").read_text() == "key"
    with temporary_connection(settings_of_url(empty_url)) as restored:
        assert Machine.objects.using(restored.alias).get() == Machine.objects.get()
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
    assert "1 records, 2 entries of 1 chains verified" in said and "Proved" in said
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
    with temporary_connection(settings_of_url(empty_url)) as target:
        assert target.introspection.table_names() == []


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
