"""The commands of “Backup and restore” in README.md, as they are written there, on both databases."""

import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from tests.services.bobbin import ROOT

COMMAND = re.compile(r"^    (\.venv/bin/python manage\.py .*)$", re.MULTILINE)


def commands_of(title):
    """The lines of a section of README.md that run manage.py."""
    text = (ROOT / "README.md").read_text()
    section = text.split(f"\n## {title}\n")[1].split("\n## ")[0]
    return COMMAND.findall(section)


def run(line, safe, **variables):
    """Run a line of the page in a shell; with another folder for the backups."""
    command = line.replace("/safe/", f"{safe}/")
    return subprocess.run(
        ["bash", "-c", command], cwd=ROOT, env=os.environ | variables, capture_output=True, text=True, timeout=1200
    )


@pytest.fixture(params=["sqlite", "postgresql"])
def two_installations(request, tmp_path):
    """Environment variables of an installation, and of a fresh one whose DATA_DIR is not there yet."""
    folders = [tmp_path / "data", tmp_path / "fresh"]
    folders[0].mkdir()
    (folders[0] / "secret_key").write_text("the key of the first installation" * 2)
    (folders[0] / "jobs").mkdir()
    (folders[0] / "jobs" / "1.zip").write_text("a file that a job made")
    if request.param == "sqlite":
        shutil.copy(request.getfixturevalue("migrated_sqlite"), folders[0] / "bobbin.sqlite3")
        urls = [f"sqlite:///{folder / 'bobbin.sqlite3'}" for folder in folders]
    else:
        urls = [request.getfixturevalue(name) for name in ("migrated_postgresql", "postgresql_url")]
    return [{"DATA_DIR": str(folder), "DATABASE_URL": url} for folder, url in zip(folders, urls, strict=True)]


def test_the_steps_of_the_page_bring_an_installation_back(two_installations, tmp_path):
    backup, drill, restore = commands_of("Backup and restore")
    safe = tmp_path / "safe"
    safe.mkdir()
    old, fresh = two_installations
    for line, variables in ((backup, old), (drill, old), (restore, fresh)):
        done = run(line, safe, **variables)
        assert done.returncode == 0, f"{line}: {done.stdout}{done.stderr}"
    assert "each table as in the backup" in done.stdout and "verify_records" in done.stdout
    for name in ("secret_key", "jobs/1.zip"):
        assert (Path(fresh["DATA_DIR"]) / name).read_text() == (Path(old["DATA_DIR"]) / name).read_text()
    assert Path(fresh["DATA_DIR"]).stat().st_mode & 0o077 == 0
