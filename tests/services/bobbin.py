"""Bobbin itself in its own processes: commands, a Celery worker and a web server, as an operator starts them."""

import contextlib
import os
import subprocess
import sys
import tempfile
from pathlib import Path

from config.serving.parent import WEB
from tests.services.programs import free_port, listens, running, wait_until

ROOT = Path(__file__).resolve().parents[2]
OF_THE_TESTS = {"DJANGO_ALLOW_ASYNC_UNSAFE"}  # set for the browser; an operator has none of it


def manage(*arguments: str, **variables: str) -> subprocess.CompletedProcess:
    """Run manage.py with these environment variables. Raise AssertionError with the output if it fails."""
    command = [sys.executable, "manage.py", *arguments]
    environment = {name: value for name, value in os.environ.items() if name not in OF_THE_TESTS}
    done = subprocess.run(command, cwd=ROOT, env=environment | variables, capture_output=True, text=True)
    if done.returncode:
        raise AssertionError(f"{' '.join(arguments)} ended {done.returncode}:\n{done.stdout}{done.stderr}")
    return done


@contextlib.contextmanager
def celery_worker(**variables: str):
    """Yield the log file of a running worker; give it REDIS_URL, DATABASE_URL and DATA_DIR."""
    with tempfile.TemporaryDirectory(prefix="bobbin-worker-") as folder:
        log = Path(folder) / "log"
        command = [sys.executable, "-m", "celery", "-A", "config", "worker", "--pool=solo", "--loglevel=INFO"]
        options = ["--without-gossip", "--without-mingle", "--without-heartbeat"]
        with running(command + options, log=log, env=os.environ | variables, cwd=ROOT) as process:
            wait_until(
                lambda: " ready." in log.read_text(errors="replace"),
                what="Celery worker",
                log=log,
                process=process,
            )
            yield log


@contextlib.contextmanager
def web_server(**variables: str):
    """Yield the address of gunicorn serving Bobbin as `make serve` does; migrate the database first with manage()."""
    with tempfile.TemporaryDirectory(prefix="bobbin-web-") as folder:
        port = free_port()
        log = Path(folder) / "log"
        command = [*WEB, "--bind", f"127.0.0.1:{port}"]
        with running(command, log=log, env=os.environ | variables, cwd=ROOT) as process:
            wait_until(lambda: listens(port), what="gunicorn", log=log, process=process)
            yield f"http://127.0.0.1:{port}"
