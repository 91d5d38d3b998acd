"""Every command, on a database with every kind of damage, ends with a sentence and its exit code."""

import os
import shutil
import sqlite3
from inspect import getclosurevars
from pathlib import Path
from unittest import mock

import psycopg
import pytest
from django.core.management import get_commands
from django.db import connections
from django.db.backends.base.base import BaseDatabaseWrapper

from config.backup import settings_of_url
from config.command_line import run
from fleet.management.database_check import UNUSABLE, DatabaseUnusable, require_sound_database
from inspections.bench.examples import EXAMPLES
from tests.services.bobbin import manage

# The arguments of each command, and its permitted exit codes on a database that cannot be used. A command that needs
# no database, or not the damaged part of it, succeeds.
COMMANDS = {
    "backup": (["{folder}/new.backup"], {UNUSABLE}),
    "bench_test": (["describe", next(iter(EXAMPLES))], {0}),
    "check_pdf": (["{folder}/paper.pdf"], {1, UNUSABLE}),
    "cover_table": (["OH-1"], {1, UNUSABLE}),
    "current_state": (["--check"], {0, 1, UNUSABLE}),
    "demo": ([], {1, UNUSABLE}),
    "health": ([], {0, 1}),
    "import_register": (["{folder}/machines.csv", "--dry-run"], {0, 1, UNUSABLE}),
    "kept_rows": (["--check"], {0, 1, UNUSABLE}),
    "load_procedures": ([], {0, UNUSABLE}),
    "migrate": (["--check"], {0, 1, UNUSABLE}),  # 1, without output: a migration is pending
    "person": (["list"], {0, UNUSABLE}),
    "plan_due": ([], {0, UNUSABLE}),
    "procedure_coverage": (["--share"], {0}),
    "restore": (["{folder}/none.backup"], {UNUSABLE}),
    "restore_drill": ([], {UNUSABLE}),
    "run_jobs": (["--due"], {0, UNUSABLE}),
    "scheduler": ([], {0, UNUSABLE}),
    "seal": ([], {0, UNUSABLE}),
    "serve": ([], {0, UNUSABLE}),
    "shipped_covers": (["--check"], {0}),
    "token": (["list"], {0, UNUSABLE}),
    "verify_records": ([], {UNUSABLE}),
    "write_report": (["cover", "--out", "{folder}/cover.csv"], {0, UNUSABLE}),
}
# The name in the module, not the library's own: a command may start a helper that is to be a real one.
PROCESSES = ("config.management.commands.serve.os", "fleet.management.commands.scheduler.run_until")


def truncated(path):
    os.truncate(path, path.stat().st_size // 2)


def overwritten_start(path):
    with path.open("r+b") as file:
        file.write(b"x" * 100)


def garbage_in_the_middle(path):
    pages = path.stat().st_size // 4096
    with path.open("r+b") as file:
        for page in range(2, pages, 3):
            file.seek(page * 4096)
            file.write(os.urandom(4096))


def table_dropped(path):
    with sqlite3.connect(path) as database:
        database.execute("PRAGMA foreign_keys=OFF")
        database.execute("DROP TABLE inspections_reading")


def column_missing(path):
    with sqlite3.connect(path) as database:
        database.execute("ALTER TABLE inspections_reading DROP COLUMN as_read")


def a_folder(path):
    path.unlink()
    path.mkdir()


def newer(path):
    with sqlite3.connect(path) as database:
        database.execute("INSERT INTO django_migrations (app, name, applied) VALUES ('fleet', '9999_x', '2026-01-01')")


SQLITE = {
    "missing": Path.unlink,
    "no bytes": lambda path: os.truncate(path, 0),
    "truncated": truncated,
    "start overwritten": overwritten_start,
    "no database": lambda path: path.write_bytes(b"just text\n" * 5000),
    "garbage in the middle": garbage_in_the_middle,
    "a folder": a_folder,
    "a table dropped": table_dropped,
    "a column missing": column_missing,
    "of a newer version": newer,
}
POSTGRESQL = {
    "nothing listens": lambda settings: settings.update(PORT="1"),
    "wrong password": lambda settings: settings.update(USER="nobody", PASSWORD="wrong"),
    "no such database": lambda settings: settings.update(NAME="nowhere"),
    "a table dropped": "DROP TABLE inspections_reading CASCADE",
    "another type": "ALTER TABLE inspections_inspection ALTER signed_at TYPE text",
    "another name": "ALTER TABLE fleet_machine RENAME asset_number TO number",
    "no tables": "DROP SCHEMA public CASCADE; CREATE SCHEMA public",
}


@pytest.fixture
def any_connection(transactional_db, monkeypatch):
    """Lift the guard against connections that the test did not declare: here they are made by the code."""
    guarded = BaseDatabaseWrapper.ensure_connection
    real = getclosurevars(guarded).nonlocals.get("real_ensure_connection", guarded)
    monkeypatch.setattr(BaseDatabaseWrapper, "ensure_connection", real)


@pytest.fixture
def installed(any_connection, settings, tmp_path):
    """installed(**settings): make these the settings of the default connection until the test ends."""
    original, kept = connections["default"], connections.settings["default"]
    settings.DATA_DIR = tmp_path
    (tmp_path / "machines.csv").write_text("asset_number,model,site,area\nX,m,s,a\n")
    (tmp_path / "paper.pdf").write_bytes(b"%PDF-1.4 nothing")

    def install(found):
        connections.settings["default"] = {**kept, **found}
        connections["default"] = connections.create_connection("default")

    yield install
    connections["default"].close()
    connections.settings["default"], connections["default"] = kept, original


def ended(capsys, name, folder):
    """Return the output of a command, and its exit code."""
    words = [word.format(folder=folder) for word in COMMANDS[name][0]]
    code = 0
    with mock.patch(PROCESSES[0]), mock.patch(PROCESSES[1]), mock.patch("signal.signal"):
        umask = os.umask(0o077)
        try:
            run(["manage.py", name, *words])
        except SystemExit as end:
            code = end.code
        finally:
            os.umask(umask)
    written = capsys.readouterr()
    return written.out + written.err, code


def faults_of_commands(capsys, folder):
    """A sentence for each command that ends with another code than it may, or without a sentence."""
    faults = []
    for name, (_, codes) in COMMANDS.items():
        said, code = ended(capsys, name, folder)
        is_told = bool(said.strip()) and "Traceback" not in said or name == "migrate"
        if code not in codes or (code and not is_told):
            faults.append(f"{name} ended {code}: {said}")
    return faults


def test_every_command_of_the_project_is_tried():
    own = {name for name, app in get_commands().items() if app in ("config", "fleet", "inspections")}
    assert own == set(COMMANDS)


@pytest.mark.parametrize("damage", SQLITE)
def test_every_command_ends_with_a_sentence_on_a_damaged_file(installed, migrated_sqlite, capsys, tmp_path, damage):
    path = tmp_path / "bobbin.sqlite3"
    shutil.copy(migrated_sqlite, path)
    SQLITE[damage](path)
    before = path.read_bytes() if path.is_file() else None
    installed(settings_of_url(f"sqlite:///{path}"))
    assert faults_of_commands(capsys, tmp_path) == []
    assert path.is_file() is (before is not None)
    assert before != b"" or path.read_bytes() == b""
    assert not (tmp_path / "new.backup").exists()


@pytest.mark.parametrize("damage", POSTGRESQL)
def test_every_command_ends_with_a_sentence_on_a_damaged_database(
    installed, migrated_postgresql, capsys, tmp_path, damage
):
    found = settings_of_url(migrated_postgresql) | {"OPTIONS": {}}
    if callable(POSTGRESQL[damage]):
        POSTGRESQL[damage](found)
    else:
        with psycopg.connect(migrated_postgresql, autocommit=True) as database:
            database.execute(POSTGRESQL[damage])
    installed(found)
    assert faults_of_commands(capsys, tmp_path) == []
    assert not (tmp_path / "new.backup").exists()


def test_a_whole_database_is_found_sound(installed, migrated_sqlite, tmp_path):
    path = tmp_path / "bobbin.sqlite3"
    shutil.copy(migrated_sqlite, path)
    installed(settings_of_url(f"sqlite:///{path}"))
    require_sound_database()


def test_the_database_of_the_suite_is_found_sound(transactional_db):
    require_sound_database()


def test_a_fault_names_what_where_and_what_to_do(installed, tmp_path):
    installed(settings_of_url(f"sqlite:///{tmp_path / 'mistyped.sqlite3'}"))
    with pytest.raises(DatabaseUnusable) as fault:
        require_sound_database()
    assert str(tmp_path / "mistyped.sqlite3") in str(fault.value)
    assert "does not exist" in str(fault.value) and "manage.py migrate" in str(fault.value)


def test_a_mistake_of_the_program_keeps_its_traceback(transactional_db, monkeypatch):
    monkeypatch.setattr("inspections.management.commands.seal.seals_of", lambda: 1 / 0)
    with pytest.raises(ZeroDivisionError):
        run(["manage.py", "seal"])


def test_the_error_itself_is_shown_on_request(installed, tmp_path):
    installed(settings_of_url(f"sqlite:///{tmp_path / 'none.sqlite3'}"))
    with pytest.raises(Exception, match="there is no database in"):
        run(["manage.py", "seal", "--traceback"])


@pytest.mark.parametrize(
    "error, sentence",
    [
        (OSError(28, "No space left on device", "/safe/x"), "/safe/x: No space left on device"),
        (PermissionError(13, "Permission denied", "/safe/x"), "/safe/x: Permission denied"),
        (sqlite3.OperationalError("database or disk is full"), "The disk has no room"),
        (sqlite3.OperationalError("database is locked"), "Another process is writing"),
        (sqlite3.OperationalError("attempt to write a readonly database"), "cannot be used"),
    ],
)
def test_a_fault_of_the_disk_is_a_sentence(transactional_db, monkeypatch, capsys, error, sentence):
    def fail():
        raise error

    monkeypatch.setattr("inspections.management.commands.seal.seals_of", fail)
    with pytest.raises(SystemExit) as end:
        run(["manage.py", "seal"])
    assert end.value.code == UNUSABLE and sentence in capsys.readouterr().err


def test_a_command_that_only_reads_makes_neither_database_nor_folder(tmp_path):
    """In a process of its own: the settings are read there."""
    folder = tmp_path / "mistyped"
    for words in (["backup", str(tmp_path / "x.backup")], ["restore", str(tmp_path / "none")]):
        variables = {"DATA_DIR": str(folder), "DATABASE_URL": f"sqlite:///{folder / 'bobbin.sqlite3'}"}
        try:
            manage(*words, **variables)
        except AssertionError as ended:
            assert f"ended {UNUSABLE}:" in str(ended) and "Traceback" not in str(ended)
        assert list(tmp_path.iterdir()) == []
