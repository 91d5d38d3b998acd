"""The files of an installation are readable by its owner only, also those of an earlier version."""

import os
import shutil
import stat

import pytest
from django.core.files.base import ContentFile

from config.private_files import keep_private
from config.secret import local_secret_key
from fleet.models.jobs import job_files
from tests.services.bobbin import ROOT, manage

PRIVATE = ("secret_key", "bobbin.sqlite3", "bobbin.sqlite3-wal", "bobbin.sqlite3-shm", "jobs/1.zip")


def mode(path):
    return stat.S_IMODE(path.stat().st_mode)


@pytest.fixture
def open_installation(tmp_path):
    """DATA_DIR as a version that left it to the umask of its user made it."""
    folder = tmp_path / "data"
    (folder / "jobs").mkdir(parents=True)
    for name in PRIVATE:
        (folder / name).write_text("x")
        (folder / name).chmod(0o644)
    (folder / "jobs").chmod(0o755)
    folder.chmod(0o755)
    return folder


def database(folder):
    return {"ENGINE": "django.db.backends.sqlite3", "NAME": folder / "bobbin.sqlite3"}


def test_what_others_could_read_is_taken_from_them(open_installation):
    keep_private(open_installation, database(open_installation))
    assert {name: mode(open_installation / name) for name in PRIVATE} == dict.fromkeys(PRIVATE, 0o600)
    assert mode(open_installation) == mode(open_installation / "jobs") == 0o700


def test_a_database_elsewhere_is_private_and_the_folder_around_it_is_left(open_installation, tmp_path):
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    elsewhere.chmod(0o755)
    for ending in ("", "-wal"):
        (elsewhere / f"bobbin.sqlite3{ending}").write_text("x")
    keep_private(open_installation, database(elsewhere))
    assert {mode(path) for path in elsewhere.iterdir()} == {0o600} and mode(elsewhere) == 0o755


def test_a_folder_that_is_no_installation_and_a_file_of_somebody_else_are_left(tmp_path, monkeypatch):
    (tmp_path / "notes.txt").write_text("x")
    tmp_path.chmod(0o755)
    keep_private(tmp_path, database(tmp_path))
    assert mode(tmp_path) == 0o755
    (tmp_path / "secret_key").write_text("x")
    (tmp_path / "secret_key").chmod(0o644)
    monkeypatch.setattr(os, "geteuid", lambda: 4711)
    keep_private(tmp_path, database(tmp_path))
    assert mode(tmp_path / "secret_key") == 0o644


def test_rights_that_the_owner_does_not_have_are_not_given(open_installation):
    (open_installation / "secret_key").chmod(0o400)
    keep_private(open_installation, database(open_installation))
    assert mode(open_installation / "secret_key") == 0o400


def test_the_file_of_a_job_is_private_whatever_the_umask(settings, tmp_path):
    settings.DATA_DIR = tmp_path
    umask = os.umask(0)
    try:
        job_files().save("1.zip", ContentFile(b"x"))
    finally:
        os.umask(umask)
    assert mode(tmp_path / "jobs") == 0o700 and mode(tmp_path / "jobs" / "1.zip") == 0o600


def test_an_open_installation_is_mended_by_whatever_starts_next(open_installation, migrated_sqlite):
    path = open_installation / "bobbin.sqlite3"
    for ending in ("-wal", "-shm"):
        path.with_name(path.name + ending).unlink()
    shutil.copy(migrated_sqlite, path)
    path.chmod(0o644)
    manage("seal", DATA_DIR=str(open_installation), DATABASE_URL=f"sqlite:///{path}")
    assert mode(open_installation) == 0o700
    assert {mode(one) for one in open_installation.rglob("*") if one.is_file()} == {0o600}


@pytest.mark.parametrize("entry", ["config/command_line.py", "config/wsgi.py", "config/celery.py"])
def test_every_entry_point_sets_the_umask(entry):
    assert "os.umask(" in (ROOT / entry).read_text()


def test_the_key_is_made_once_whole_and_private(tmp_path):
    key = local_secret_key(tmp_path / "data")
    assert len(key) >= 50 and local_secret_key(tmp_path / "data") == key
    assert [path.name for path in (tmp_path / "data").iterdir()] == ["secret_key"]
    assert mode(tmp_path / "data" / "secret_key") == 0o600
