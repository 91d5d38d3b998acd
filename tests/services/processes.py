"""The parts of a served installation as processes that can be killed and started again."""

import contextlib
import os
import random
import signal
import subprocess
import time
from pathlib import Path


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

    def wait(self, seconds=60):
        """Return once it answers, started again if it went down meanwhile. Raise RuntimeError with its log if not."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            if self.process.poll() is not None:
                self.start()
            if self.is_ready():
                return
            time.sleep(0.05)
        raise RuntimeError(f"{self.name} did not answer within {seconds} s:\n{self._end_of_log()}")

    def kill(self, rng: random.Random) -> str:
        """Kill all of it, or one of the processes that it started, as chance has it; return which."""
        children = children_of(self.process.pid)
        if children and rng.random() < 0.5:
            _kill(rng.choice(children))
            return "one process"
        os.killpg(self.process.pid, signal.SIGKILL)
        self.process.wait()
        # PostgreSQL's own children notice by themselves; until they are gone a new one refuses the folder.
        end = time.monotonic() + 20
        while any(map(is_alive, children)) and time.monotonic() < end:
            time.sleep(0.02)
        self.start()
        return "all of it"

    def stop(self):
        """End it the way an operator does, by force after ten seconds."""
        if self.process is None or self.process.poll() is not None:
            return
        # SIGINT asks PostgreSQL not to wait for its clients, SIGTERM the others not to take on anything more.
        self.process.send_signal(signal.SIGINT if self.name == "database" else signal.SIGTERM)
        try:
            self.process.wait(timeout=10)
        except subprocess.TimeoutExpired:
            os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait()

    def _end_of_log(self):
        return self.log.read_text(errors="replace")[-3000:]


def children_of(pid: int) -> list[int]:
    """The processes that a process, in any of its threads, started and that still run."""
    found = []
    for children in Path(f"/proc/{pid}/task").glob("*/children"):
        with contextlib.suppress(OSError):
            found += map(int, children.read_text().split())
    return [child for child in found if is_alive(child)]


def is_alive(pid: int) -> bool:
    """Whether a process is there and is no zombie that nobody has fetched yet."""
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0]
    except OSError:
        return False
    return state != "Z"


def _kill(pid):
    with contextlib.suppress(ProcessLookupError):
        os.kill(pid, signal.SIGKILL)
