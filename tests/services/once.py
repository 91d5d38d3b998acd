"""Work that all processes of one run of the suite share: the first one does it, the others wait and take its result."""

import fcntl
import os
from contextlib import contextmanager
from pathlib import Path

import psycopg

from tests.services.migrated import migrate

TEMPLATE = "migrated_once"


@contextmanager
def once(tmp_path_factory, name):
    """Yield a folder of the run, and whether this is the first process that comes; one process at a time."""
    own = tmp_path_factory.getbasetemp()
    run = own.parent if own.name.startswith("popen-") else own
    folder = run / f"shared-{name}"
    folder.mkdir(exist_ok=True)
    with (folder / "lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        done = folder / "done"
        yield folder, not done.exists()
        done.touch()


def migrated_file(tmp_path_factory) -> Path:
    """Return an empty, migrated SQLite database, to copy."""
    with once(tmp_path_factory, "sqlite") as (folder, is_first):
        path = folder / "empty.sqlite3"
        if is_first:
            migrate(DATABASE_URL=f"sqlite:///{path}")
        return path


def copy_migrated(tmp_path_factory, name) -> None:
    """Create a migrated database of this name on the PostgreSQL of DATABASE_URL."""
    url = os.environ["DATABASE_URL"]
    with once(tmp_path_factory, "postgresql") as (_, is_first), psycopg.connect(url, autocommit=True) as connection:
        if is_first:
            _create(connection, TEMPLATE, "template0")
            migrate(DATABASE_URL=f"{url.rpartition('/')[0]}/{TEMPLATE}")
        _create(connection, name, TEMPLATE)


def _create(connection, name, template):
    """Create a database; one that an earlier run left on a server of one's own is replaced."""
    connection.execute(f"DROP DATABASE IF EXISTS {name} WITH (FORCE)")
    connection.execute(f"CREATE DATABASE {name} TEMPLATE {template}")
