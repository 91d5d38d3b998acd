"""The parent of the served installation: it keeps the scheduler up, and stays small while it waits."""

import signal
import subprocess
import sys
import time

from config.management.commands.serve import PARENT
from config.serving.parent import Beside
from tests.services.programs import PATIENCE_S


def test_a_scheduler_that_ended_is_started_again_but_not_in_a_rush(monkeypatch):
    monkeypatch.setattr("config.serving.parent.AGAIN_SECONDS", 0.2)
    beside = Beside([sys.executable, "-c", "import time; time.sleep(600)"])
    beside.keep_up()
    first = beside.process
    beside.keep_up()
    assert beside.process is first
    first.kill()
    first.wait()
    end = time.monotonic() + PATIENCE_S
    while beside.process is first and time.monotonic() < end:
        beside.keep_up()
        time.sleep(0.02)
    assert beside.process is not first
    beside.end()
    assert beside.process.returncode == -signal.SIGTERM


def test_the_web_server_alone_is_started_where_there_is_a_worker():
    alone = Beside(None)
    alone.keep_up()
    alone.end()
    assert alone.process is None


def test_the_parent_loads_nothing_of_what_it_starts():
    loaded = f"import runpy, sys; runpy.run_path({str(PARENT)!r}); print(*sys.modules)"
    done = subprocess.run([sys.executable, "-P", "-c", loaded], capture_output=True, text=True, check=True)
    assert not {name.partition(".")[0] for name in done.stdout.split()} & {"celery", "config", "django", "fleet"}
