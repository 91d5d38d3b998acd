"""The databases that are measured: a SQLite file that stays, and a throwaway PostgreSQL with the same rows."""

import contextlib
import os
import sqlite3
import subprocess
import sys
from pathlib import Path

import psycopg

from tests.services.bobbin import manage
from tests.services.postgresql import postgresql

ROOT = Path(__file__).resolve().parents[2]
# A fleet of another size is kept in a folder of its own.
FOLDER = Path(os.environ.get("BENCH_FOLDER") or ROOT / ".bobbin" / "bench")
SQLITE = FOLDER / "fleet.sqlite3"
# The variables of the settings; those of the person who runs the measurement are ignored.
PLAIN = {
    "ALLOWED_HOSTS": "localhost",
    "BASE_URL": "http://localhost:8000",
    "DATA_DIR": str(FOLDER),
    "DEBUG": "no",
    "DJANGO_SETTINGS_MODULE": "config.settings",
    "REDIS_URL": "",
    "SECRET_KEY": "only-for-measurements-" + "k" * 40,
    "TIME_ZONE": "UTC",
}


def variables(database_url=f"sqlite:///{SQLITE}"):
    """Environment variables of an installation on that database."""
    (FOLDER / "static").mkdir(parents=True, exist_ok=True)
    return PLAIN | {"DATABASE_URL": database_url}


def set_up(database_url=f"sqlite:///{SQLITE}"):
    """Set Django up in this process for one of the databases."""
    import django

    os.environ.update(variables(database_url))
    django.setup()


def run_module(module, *arguments, database_url=f"sqlite:///{SQLITE}"):
    """Run a module of this package in a process of its own, on that database. Raise CalledProcessError if it fails."""
    command = [sys.executable, "-m", f"tests.benchmarks.{module}", *arguments]
    subprocess.run(command, cwd=ROOT, env=os.environ | variables(database_url), check=True)


@contextlib.contextmanager
def filled_postgresql():
    """Yield the DATABASE_URL of a PostgreSQL that holds what the SQLite file holds; Django must be set up."""
    from tests.benchmarks.copying import pour

    with postgresql() as url:
        manage("migrate", "--verbosity=0", **variables(url))
        with contextlib.closing(sqlite3.connect(SQLITE)) as source, psycopg.connect(url) as target:
            pour(source, target)
        yield url
