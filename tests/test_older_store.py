"""A store that an earlier version signed comes back, migrates, and proves its records.

`tests/older_store/` holds backups of one invented hospital, made with revision 85615d1 on each kind of database: four
signed records (one failed and amended, one retest countersigned, one opened before the chain's newest entry), a
withdrawal, a release, findings, limits, tokens, a changed circuit, and two records as that version printed them.
"""

import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent
STORES = Path(__file__).parent / "older_store"
RECORDS = {5: "record-5.pdf", 7: "record-7.pdf"}
GENUINE, OTHER_LAYOUT = 0, 5


@pytest.fixture(params=["sqlite", "postgresql"])
def restored(request, tmp_path):
    """Run a command on the restored and migrated store."""
    data_dir = tmp_path / "data"
    data_dir.mkdir()
    database = {}
    if request.param == "postgresql":
        database = {"DATABASE_URL": request.getfixturevalue("postgresql_url")}
    environment = os.environ | database | {"DATA_DIR": str(data_dir), "SECRET_KEY": "k" * 60}
    if request.param == "sqlite":
        environment.pop("DATABASE_URL", None)

    def run(*arguments):
        command = [sys.executable, "manage.py", *arguments]
        return subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, timeout=1200)

    done = run("restore", str(STORES / f"first-chain.{request.param}.backup"))
    assert done.returncode == 0, done.stdout + done.stderr
    done = run("migrate", "--verbosity", "0")
    assert done.returncode == 0, done.stdout + done.stderr
    return run


# One process for the commands, because each start of Bobbin takes longer than most of them.
VERIFY = """
from django.core.management import CommandError, call_command

call_command("verify_records")
for path in PATHS:
    try:
        call_command("check_pdf", path)
        print("answer 0")
    except CommandError as answer:
        print(answer, "answer", answer.returncode)
"""


def test_a_store_of_an_earlier_version_verifies_after_migrating(restored):
    paths = [str(STORES / name) for name in RECORDS.values()]
    done = restored("shell", "--no-imports", "-c", f"PATHS = {paths}\n{VERIFY}")
    assert done.returncode == 0, done.stdout + done.stderr
    assert "4 records" in done.stdout
    codes = [int(code) for code in re.findall(r"answer (\d+)$", done.stdout, re.M)]
    assert len(codes) == len(paths) and set(codes) <= {GENUINE, OTHER_LAYOUT}, done.stdout + done.stderr
