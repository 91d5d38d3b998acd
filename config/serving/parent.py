"""The parent of a served installation: starts the web server, keeps the scheduler up beside it, ends both.

Run as a file by `manage.py serve`, in its process and folder. It only waits, so it loads nothing of Bobbin or Django.

parent.py [--scheduler] [options of gunicorn]
"""

import signal
import subprocess
import sys
import time

WEB = [
    sys.executable, "-m", "gunicorn", "--worker-class", "config.serving.worker.BufferingWorker", "--threads", "8",
    "config.wsgi",
]  # fmt: skip
SCHEDULER = [sys.executable, "manage.py", "scheduler"]
LOOK_SECONDS = 0.5
AGAIN_SECONDS = 5.0  # seconds before a scheduler that ended is started again
END_SECONDS = 30.0


class Beside:
    """A process that is started again whenever it ends; without a command there is none."""

    def __init__(self, command):
        self.command = command
        self.process = None
        self.started = -AGAIN_SECONDS

    def keep_up(self):
        ended = self.process is None or self.process.poll() is not None
        if self.command and ended and time.monotonic() - self.started >= AGAIN_SECONDS:
            self.process = subprocess.Popen(self.command)
            self.started = time.monotonic()

    def end(self):
        if self.process is not None:
            _end(self.process)


def main(arguments):
    """Serve until the web server ends or a signal asks for the end; return the exit status of the web server."""
    signal.signal(signal.SIGTERM, _interrupt)
    with_scheduler = arguments[:1] == ["--scheduler"]
    web = subprocess.Popen([*WEB, *arguments[with_scheduler:]])
    scheduler = Beside(SCHEDULER if with_scheduler else None)
    try:
        while web.poll() is None:
            scheduler.keep_up()
            time.sleep(LOOK_SECONDS)
    except KeyboardInterrupt:
        pass
    finally:
        _end(web)
        scheduler.end()
    return web.returncode


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


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
