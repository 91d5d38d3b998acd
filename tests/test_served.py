"""The served installation of docker/compose.yaml, started without containers, does the main job."""

import subprocess
import sys

import pytest

from tests.served import MISSING
from tests.services.bobbin import ROOT


@pytest.mark.browser
@pytest.mark.postgres
@pytest.mark.redis
def test_the_main_job_is_done_on_the_services_of_the_compose_file():
    done = subprocess.run([sys.executable, "-m", "tests.served"], cwd=ROOT, capture_output=True, text=True)
    if done.returncode == MISSING:
        pytest.skip(done.stdout)
    assert done.returncode == 0, done.stdout + done.stderr[-4000:]
    assert "main job done in the browser" in done.stdout
