"""Migrated databases: the first of a run of the suite is migrated, the others are copies of it.

A migration from nothing takes eight seconds. `tests/test_migrations.py`, `tests/test_older_store.py` and
`tests/served.py` migrate by themselves.
"""

import contextlib
import fcntl
import os
import shutil
import sqlite3
import subprocess
from pathlib import Path

from tests.services.bobbin import manage
from tests.services.postgresql import BIN_FOLDERS
from tests.services.programs import find_program

RUN = "BOBBIN_TEST_DATA_DIR"  # the folder of a run of the suite, which the processes that it starts inherit


def migrate(**variables: str) -> None:
    """Make the tables in the empty database of DATABASE_URL."""
    url = variables["DATABASE_URL"]
    keep, load = (_keep_file, _load_file) if url.startswith("sqlite:") else (_keep_dump, _load_dump)
    if RUN not in os.environ:
        manage("migrate", "--verbosity=0", **variables)
        return
    kept = Path(os.environ[RUN]) / f"migrated.{url.partition(':')[0]}"
    with _one_at_a_time(kept):
        if kept.exists():
            load(kept, url)
            return
        manage("migrate", "--verbosity=0", **variables)
        half = kept.with_suffix(".half")
        keep(url, half)
        half.rename(kept)


@contextlib.contextmanager
def _one_at_a_time(path):
    with path.with_suffix(".lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        yield


def _keep_file(url, kept):
    with (
        contextlib.closing(sqlite3.connect(url.removeprefix("sqlite:///"))) as source,
        contextlib.closing(sqlite3.connect(kept)) as target,
    ):
        source.backup(target)
    kept.chmod(0o600)


def _load_file(kept, url):
    shutil.copy(kept, url.removeprefix("sqlite:///"))


def _keep_dump(url, kept):
    _run("pg_dump", "--no-owner", "--file", str(kept), url)


def _load_dump(kept, url):
    _run("psql", "--no-psqlrc", "--quiet", "--set=ON_ERROR_STOP=1", "--single-transaction", f"--file={kept}", url)


def _run(program, *arguments):
    command = find_program(program, package="postgresql", folders=BIN_FOLDERS)
    done = subprocess.run([command, *arguments], capture_output=True, text=True)
    if done.returncode:
        raise AssertionError(f"{program} ended {done.returncode}:\n{done.stderr}")
