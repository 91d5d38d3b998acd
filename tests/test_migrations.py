"""A database that has no tables gets them, loses them and gets them again, on both databases; no migration is missing.

It gets them from the squashed migrations. `tests/test_older_store.py` runs those that they replace, on a store with
records, and compares the tables.
"""

import json
import shutil

import pytest

from tests.services.bobbin import manage

OWN_APPS = ["inspections", "fleet"]

# One process for all steps, because each start of Bobbin takes longer than some steps.
THERE_AND_BACK = """
import json
from django.core.management import call_command
from django.db import connection
from django.db.migrations.recorder import MigrationRecorder

def found():
    names = [name for name in connection.introspection.table_names() if name.startswith(("fleet_", "inspections_"))]
    applied = [name for app, name in MigrationRecorder(connection).applied_migrations() if app in APPS]
    return {"tables": sorted(names), "applied": sorted(applied)}

seen = [found()]
call_command("migrate", check_unapplied=True)
call_command("makemigrations", check_changes=True, dry_run=True, verbosity=0)
call_command("migrate", "fleet", "zero", verbosity=0)  # and of inspections, each of which rests on one of fleet
seen.append(found())
call_command("migrate", verbosity=0)
print(json.dumps([*seen, found()]))
"""


@pytest.fixture(params=["sqlite", "postgresql"])
def migrated_installation(request, tmp_path):
    """Environment variables of an installation without rows that was migrated from nothing."""
    if request.param == "sqlite":
        url = f"sqlite:///{tmp_path / 'empty.sqlite3'}"
        shutil.copy(request.getfixturevalue("migrated_sqlite"), tmp_path / "empty.sqlite3")
    else:
        url = request.getfixturevalue("migrated_postgresql")
    return {"DATABASE_URL": url, "DATA_DIR": str(tmp_path)}


def test_migrations_run_back_and_forward_and_none_is_missing(migrated_installation):
    """The database that the suite begins with was migrated forward from nothing.

    `makemigrations` exits with an error for a model without a migration, and this test fails.
    """
    code = f"APPS = {OWN_APPS}\n{THERE_AND_BACK}"
    answer = manage("shell", "--no-imports", "-c", code, **migrated_installation).stdout
    there, back, again = json.loads(answer)
    assert len(there["tables"]) > 20 and len(there["applied"]) > 20
    assert back == {"tables": [], "applied": []}
    assert again == there
