"""The database connection from the environment."""

import sqlite3
from contextlib import contextmanager
from pathlib import Path

_may_create = False


class ExistingFile(sqlite3.Connection):
    """A connection to a file that exists and is not empty.

    SQLite itself creates a missing file and fills an empty one, so that a mistyped DATA_DIR would look like an empty
    installation.
    """

    def __init__(self, database, *args, **options):
        is_file = not str(database).startswith((":memory:", "file:"))
        if is_file and not _may_create and _is_nothing(Path(database)):
            raise sqlite3.OperationalError(f"there is no database in {database}")
        super().__init__(database, *args, **options)


def _is_nothing(path):
    return not path.exists() or (path.is_file() and not path.stat().st_size)


@contextmanager
def new_file_allowed():
    """Let SQLite create a missing database file. Used by migrate, which makes an installation."""
    global _may_create
    was, _may_create = _may_create, True
    try:
        yield
    finally:
        _may_create = was


SQLITE_OPTIONS = {
    "factory": ExistingFile,
    # FULL: a reading that was acknowledged is on the disk. IMMEDIATE: two writers queue instead of failing half way.
    "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL;",
    "transaction_mode": "IMMEDIATE",
    # Seconds that a statement waits for another writer; config/failures/again.py decides what a request does then.
    "timeout": 10,
}


def database_settings(env, default: str) -> dict:
    """Return DATABASES["default"] for DATABASE_URL, with the password, pool and time limit of the environment."""
    database = env.db("DATABASE_URL", default=default)
    if database["ENGINE"] == "django.db.backends.sqlite3":
        return database | {"OPTIONS": dict(SQLITE_OPTIONS)}
    if password := env("DATABASE_PASSWORD", default="").strip():
        database["PASSWORD"] = password
    limit_s = env.int("DATABASE_STATEMENT_TIMEOUT", default=60)
    options = database.setdefault("OPTIONS", {})
    # jit: compiling a query of a page takes longer than running it, ten times as long for a count over the fleet.
    options.setdefault("options", f"-c jit=off -c statement_timeout={limit_s * 1000}")
    options.setdefault("connect_timeout", 5)
    database |= {"CONN_MAX_AGE": 60, "CONN_HEALTH_CHECKS": True}
    if size := env.int("DATABASE_POOL", default=0):
        # The pool keeps the connections itself, and checks each before use.
        database |= {"CONN_MAX_AGE": 0, "CONN_HEALTH_CHECKS": False}
        options["pool"] = {"min_size": 1, "max_size": size, "timeout": 10}
    return database
