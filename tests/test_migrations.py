"""Every migration runs forward, back and forward again on both databases, and none is missing."""

import pytest

from tests.services.bobbin import manage

OWN_APPS = ("inspections", "fleet")


@pytest.fixture(params=["sqlite", "postgresql"])
def empty_installation(request, tmp_path):
    """Environment variables of an installation whose database is empty."""
    if request.param == "sqlite":
        url = f"sqlite:///{tmp_path / 'empty.sqlite3'}"
    else:
        url = request.getfixturevalue("postgresql_url")
    return {"DATABASE_URL": url, "DATA_DIR": str(tmp_path)}


def applied(installation: dict) -> dict[str, int]:
    """Return how many migrations of each own app are applied."""
    shown = {app: manage("showmigrations", app, **installation).stdout for app in OWN_APPS}
    return {app: text.count("[X]") for app, text in shown.items()}


def own_tables(installation: dict) -> set[str]:
    code = "from django.db import connection; print(*connection.introspection.table_names())"
    names = manage("shell", "--no-imports", "-c", code, **installation).stdout.split()
    return {name for name in names if name.startswith(("fleet_", "inspections_"))}


def test_migrations_run_forward_and_back_and_forward(empty_installation):
    manage("migrate", **empty_installation)
    first_tables, first_applied = own_tables(empty_installation), applied(empty_installation)
    for app in OWN_APPS:
        manage("migrate", app, "zero", **empty_installation)
    assert own_tables(empty_installation) == set()
    assert applied(empty_installation) == dict.fromkeys(OWN_APPS, 0)

    manage("migrate", **empty_installation)
    assert (own_tables(empty_installation), applied(empty_installation)) == (first_tables, first_applied)
    assert min(first_applied.values()) > 0


def test_no_migration_is_missing(empty_installation):
    manage("migrate", **empty_installation)
    assert "No changes detected" in manage("makemigrations", "--check", "--dry-run", **empty_installation).stdout
