"""A store that an earlier version signed comes back, migrates, proves its records, and has the tables of a new store.

`tests/older_store/` holds backups of one invented hospital, made with revision 85615d1 on each kind of database: four
signed records (one failed and amended, one retest countersigned, one opened before the chain's newest entry), a
withdrawal, a release, findings, limits, tokens, a changed circuit, and two records as that version printed them.
"""

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from tests.services.bobbin import manage

ROOT = Path(__file__).resolve().parent.parent
STORES = Path(__file__).parent / "older_store"
RECORDS = {5: "record-5.pdf", 7: "record-7.pdf"}
GENUINE, OTHER_LAYOUT = 0, 5


@pytest.fixture(params=["sqlite", "postgresql"])
def engine(request):
    return request.param


@pytest.fixture
def new_store(engine, request):
    """Environment variables of a store that was migrated from nothing."""
    if engine == "sqlite":
        return {"DATABASE_URL": f"sqlite:///{request.getfixturevalue('migrated_sqlite')}"}
    return {"DATABASE_URL": request.getfixturevalue("migrated_postgresql")}


@pytest.fixture
def restored(engine, request, tmp_path):
    """Run a command on the restored store."""
    data_dir = tmp_path / "data"
    data_dir.mkdir()
    database = {}
    if engine == "postgresql":
        database = {"DATABASE_URL": request.getfixturevalue("postgresql_url")}
    environment = os.environ | database | {"DATA_DIR": str(data_dir), "SECRET_KEY": "k" * 60}
    if engine == "sqlite":
        environment.pop("DATABASE_URL", None)

    def run(*arguments):
        command = [sys.executable, "manage.py", *arguments]
        return subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, timeout=1200)

    done = run("restore", str(STORES / f"first-chain.{engine}.backup"))
    assert done.returncode == 0, done.stdout + done.stderr
    return run


# Limits from before a limit had to name its source.
SAID = [("Manual, page 41", "Agreed"), ("none", "Agreed"), (" N/A ", "Agreed"), ("Manual, page 41", "-")]
OF_THAT_VERSION = ("inspections", "0008_finding_of_circuit")
# One process for the commands, because each start of Bobbin takes longer than most of them.
MIGRATE = """
import datetime
from django.core.management import call_command
from django.db import connection
from django.db.migrations.executor import MigrationExecutor

apps = MigrationExecutor(connection).loader.project_state([OF_THAT_VERSION]).apps
site = apps.get_model("fleet", "Site").objects.create(code="n", name="North")
Limit = apps.get_model("inspections", "LimitOverride")
for source, reason in SAID:
    Limit.objects.create(
        site=site, test_code="supply-failure", outcome_key="trip_pressure", lower=1, unit="psi", source=source,
        reason=reason, from_date=datetime.date(2026, 1, 1), at=datetime.datetime(2026, 1, 1, tzinfo=datetime.UTC),
    )
call_command("migrate", verbosity=0)
"""
LIMITS = """
from inspections.models import LimitOverride

limits = LimitOverride.objects.filter(site__code="n").order_by("pk")
kept = [(limit.source, limit.without_source) for limit in limits]
print("limits", [without for _, without in kept], limits.in_force(datetime.date(2026, 11, 2)).count())
"""
# Columns, and what is held by name; a foreign key is named after the columns that it had at first.
TABLES = """
import json
from django.db import connection

def described(cursor, table):
    read = connection.introspection
    columns = [(one.name, str(one.type_code), one.null_ok) for one in read.get_table_description(cursor, table)]
    held = [
        ("" if one["foreign_key"] or name.startswith("__unnamed") else name, *(one.get(kind) for kind in KINDS))
        for name, one in read.get_constraints(cursor, table).items()
    ]
    return [sorted(columns), sorted(held, key=str)]

with connection.cursor() as cursor:
    names = connection.introspection.table_names(cursor)
    print("tables", json.dumps({name: described(cursor, name) for name in names}))
"""
KINDS = ("columns", "primary_key", "unique", "foreign_key", "check", "index", "orders")
VERIFY = """
from django.core.management import CommandError

call_command("verify_records")
for path in PATHS:
    try:
        call_command("check_pdf", path)
        print("answer 0")
    except CommandError as answer:
        print(answer, "answer", answer.returncode)
"""


def test_a_store_of_an_earlier_version_migrates_and_proves_its_records(restored, new_store):
    paths = [str(STORES / name) for name in RECORDS.values()]
    given = f"PATHS, SAID, OF_THAT_VERSION, KINDS = {paths}, {SAID!r}, {OF_THAT_VERSION}, {KINDS}\n"
    done = restored("shell", "--no-imports", "-c", given + MIGRATE + VERIFY + LIMITS + TABLES)
    said = done.stdout + done.stderr
    assert done.returncode == 0, said
    assert "4 records" in done.stdout
    codes = [int(code) for code in re.findall(r"answer (\d+)$", done.stdout, re.M)]
    assert len(codes) == len(paths) and set(codes) <= {GENUINE, OTHER_LAYOUT}, said
    assert "limits [False, True, True, True] 1" in said, "Limits without a source are kept and no longer applied."
    assert _tables(done.stdout) == _tables(manage("shell", "--no-imports", "-c", given + TABLES, **new_store).stdout)


def _tables(said):
    return json.loads(said.rpartition("tables ")[2])
