"""The services of a served installation as processes that can be killed and started again."""

import contextlib
import os
import random
import signal
import subprocess
import time
from pathlib import Path

from tests.services.programs import PATIENCE_S


class Part:
    """A process group. `is_ready` says whether it answers; `command` starts it again in the same place."""

    def __init__(self, name, command, *, folder, env=None, cwd=None, is_ready):
        self.name, self.command, self.env, self.cwd, self.is_ready = name, command, env, cwd, is_ready
        self.log = Path(folder) / f"{name}.log"
        self.process = None

    def start(self):
        with self.log.open("ab") as output:
            self.process = subprocess.Popen(
                self.command, stdout=output, stderr=output, env=self.env, cwd=self.cwd, start_new_session=True
            )

    def wait(self, seconds=PATIENCE_S):
        """Wait until it answers; start it again if it ended meanwhile. Raise RuntimeError with its log if not."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            if self.process.poll() is not None:
                self.start()
            if self.is_ready():
                return
            time.sleep(0.05)
        raise RuntimeError(f"{self.name} did not answer within {seconds} s:\n{self._end_of_log()}")

    def kill(self, rng: random.Random) -> str:
        """Kill all of it, or one of its processes, at random; return which."""
        children = children_of(self.process.pid)
        if children and rng.random() < 0.5:
            _kill(rng.choice(children))
            return "one process"
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()
        # PostgreSQL's children end by themselves; until then a new server refuses the folder.
        end = time.monotonic() + PATIENCE_S
        while any(map(is_alive, children)) and time.monotonic() < end:
            time.sleep(0.02)
        self.start()
        return "all of it"

    def stop(self):
        """Stop it as an operator does, by force after ten seconds."""
        if self.process is None or self.process.poll() is not None:
            return
        # At SIGINT PostgreSQL does not wait for its clients; at SIGTERM the others accept no further work.
        self.process.send_signal(signal.SIGINT if self.name == "database" else signal.SIGTERM)
        try:
            self.process.wait(timeout=10)
        except subprocess.TimeoutExpired:
            os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait()

    def _end_of_log(self):
        return self.log.read_text(errors="replace")[-3000:]


def children_of(pid: int) -> list[int]:
    """Return the running processes that a process started, in any of its threads."""
    found = []
    for children in Path(f"/proc/{pid}/task").glob("*/children"):
        with contextlib.suppress(OSError):
            found += map(int, children.read_text().split())
    return [child for child in found if is_alive(child)]


def is_alive(pid: int) -> bool:
    """Return whether a process exists and is no zombie."""
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return False
    return state != "Z"


def _kill(pid):
    with contextlib.suppress(ProcessLookupError):
        os.kill(pid, signal.SIGKILL)
