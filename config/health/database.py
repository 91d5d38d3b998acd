"""Whether the database accepts a write, and whether its tables are those of this version."""

from functools import cache

from django.db import connection, transaction
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder
from django.utils import timezone

from fleet.jobs.heartbeat import leave_heartbeat

PROBE = "health"
PATIENCE_MS = 2000


class AnotherVersion(Exception):
    """The tables are older or newer than the program; the message says by which migrations."""


def check_write() -> None:
    """Write one row and commit it: this detects a full disk and a read-only database, which a query does not.

    On SQLite this shortens the lock timeout of the connection, so the caller closes it.
    """
    with connection.cursor() as cursor:
        if connection.vendor == "sqlite":
            cursor.execute(f"PRAGMA busy_timeout = {PATIENCE_MS}")
        with transaction.atomic():
            if connection.vendor == "postgresql":
                cursor.execute(f"SET LOCAL statement_timeout = {PATIENCE_MS}")
            leave_heartbeat(PROBE, at=timezone.now())


def check_tables() -> None:
    """Compare the migrations that were applied with those of this version. Raise AnotherVersion if they differ."""
    known = known_migrations()
    applied = set(MigrationRecorder(connection).applied_migrations())
    missing = sorted(known - applied)
    newer = sorted(one for one in applied - known if one[0] in {app for app, _ in known})
    if missing or newer:
        raise AnotherVersion(
            "; ".join([*_listed("not applied: run manage.py migrate", missing), *_listed("of a newer version", newer)])
        )


@cache
def known_migrations() -> frozenset[tuple[str, str]]:
    """Return every migration of this version, read once."""
    return frozenset(MigrationLoader(None, ignore_no_migrations=True).disk_migrations)


def _listed(why: str, migrations: list[tuple[str, str]]) -> list[str]:
    names = ", ".join(f"{app}.{name}" for app, name in migrations[:5])
    return [f"{why}: {names}{' and more' if len(migrations) > 5 else ''}"] if migrations else []
