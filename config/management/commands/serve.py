import signal
import subprocess
import sys
import time

from django.conf import settings
from django.core.management.base import BaseCommand
from django.db import connection

from fleet.management.database_check import require_tables

WEB = [
    sys.executable, "-m", "gunicorn", "--worker-class", "config.serving.worker.BufferingWorker", "--threads", "8",
    "config.wsgi",
]  # fmt: skip
SCHEDULER = [sys.executable, "manage.py", "scheduler"]
LOOK_SECONDS = 0.5
AGAIN_SECONDS = 5.0  # seconds before a scheduler that ended is started again
END_SECONDS = 30.0


class Command(BaseCommand):
    help = (
        "Serve an installation without a broker: the web server, and beside it the scheduler for background "
        "and daily jobs, "
        "restarted if it ends. Arguments after -- are passed to gunicorn. With REDIS_URL only the web server "
        "is started."
    )

    def add_arguments(self, parser):
        parser.add_argument("gunicorn", nargs="*", help="options of gunicorn, after --")

    def handle(self, *args, gunicorn, **options):
        require_tables()
        connection.close()
        signal.signal(signal.SIGTERM, _interrupt)
        web = subprocess.Popen([*WEB, *gunicorn], cwd=settings.BASE_DIR)
        scheduler = Beside(None if settings.REDIS_URL else SCHEDULER)
        try:
            while web.poll() is None:
                scheduler.keep_up()
                time.sleep(LOOK_SECONDS)
        except KeyboardInterrupt:
            pass
        finally:
            _end(web)
            scheduler.end()
        sys.exit(web.returncode)


class Beside:
    """A process that is started again whenever it ends; without a command there is none."""

    def __init__(self, command):
        self.command = command
        self.process = None
        self.started = -AGAIN_SECONDS

    def keep_up(self):
        ended = self.process is None or self.process.poll() is not None
        if self.command and ended and time.monotonic() - self.started >= AGAIN_SECONDS:
            self.process = subprocess.Popen(self.command, cwd=settings.BASE_DIR)
            self.started = time.monotonic()

    def end(self):
        if self.process is not None:
            _end(self.process)


def _interrupt(*_):
    raise KeyboardInterrupt


def _end(process):
    """Ask a process to end; after END_SECONDS it is killed, which is safe for jobs and database."""
    process.terminate()
    try:
        process.wait(timeout=END_SECONDS)
    except subprocess.TimeoutExpired:
        process.kill()
        process.wait()
