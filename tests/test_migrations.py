"""Every migration runs forward, back and forward again on both databases with rows in between; none is missing."""

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
print(json.dumps([*seen, *again()]))
"""


# Forward again, with limits from before a limit had to name its source.
AGAIN = """
import datetime
from django.db.migrations.executor import MigrationExecutor

OLD = ("inspections", "0008_finding_of_circuit")

def again():
    call_command("migrate", *OLD, verbosity=0)
    apps = MigrationExecutor(connection).loader.project_state([OLD]).apps
    site = apps.get_model("fleet", "Site").objects.create(code="n", name="North")
    Limit = apps.get_model("inspections", "LimitOverride")
    for source, reason in SAID:
        Limit.objects.create(
            site=site, test_code="supply-failure", outcome_key="trip_pressure", lower=1, unit="psi", source=source,
            reason=reason, from_date=datetime.date(2026, 1, 1), at=datetime.datetime(2026, 1, 1, tzinfo=datetime.UTC),
        )
    call_command("migrate", verbosity=0)
    from inspections.models import LimitOverride
    kept = list(LimitOverride.objects.order_by("pk").values_list("without_source", flat=True))
    return found(), kept, LimitOverride.objects.in_force(datetime.date(2026, 11, 2)).count()
"""
SAID = [("Manual, page 41", "Agreed"), ("none", "Agreed"), (" N/A ", "Agreed"), ("Manual, page 41", "-")]


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

    Limits without a source are kept and no longer applied.
    """
    code = f"APPS, SAID = {OWN_APPS}, {SAID!r}\n{AGAIN}\n{THERE_AND_BACK}"
    answer = manage("shell", "--no-imports", "-c", code, **migrated_installation).stdout
    there, back, again, kept, applied = json.loads(answer)
    assert len(there["tables"]) > 20 and len(there["applied"]) > 20
    assert back == {"tables": [], "applied": []}
    assert again == there
    assert kept == [False, True, True, True] and applied == 1
