"""A short run of writers beside an import and backups."""

import os
import subprocess
import sys

from tests.services.bobbin import ROOT


def test_writers_beside_an_import_and_backups_lose_nothing_and_see_no_error():
    command = [sys.executable, "-m", "tests.writers", "--writers", "4", "--rows", "120", "--pause", "0.2"]
    done = subprocess.run(command, cwd=ROOT, env=os.environ, capture_output=True, text=True, timeout=2400)
    assert done.returncode == 0, done.stdout[-3000:] + done.stderr[-3000:]
    assert "troubles: none" in done.stdout
    assert " 0 readings acknowledged" not in done.stdout
