"""Call a function in a separate process, answer its questions, and end it when it exceeds a limit."""

import os
import pickle
import select
import signal
import threading
from contextlib import suppress

from fleet.confined.limits import MIB, Exceeded, Limits
from fleet.confined.starting import start_child

PULSE_S = 1.0
END_S = 5.0
GONE = (EOFError, OSError, pickle.UnpicklingError)
STOPPED = "the time that was left before Bobbin was stopped"

_running: set["_Child"] = set()
_lock = threading.Lock()


def run_confined(function: str, *arguments, limits: Limits, answer=None, pulse=None):
    """Run a function in a separate process and return its result.

    function   "module:name"; called with the arguments, which are pickled, and with `ask`
    answer     called here for each ask(*arguments) of the function; what it raises is raised, and ends the process
    pulse      called once a second while no message arrives; what it raises is raised as well
    Raises Exceeded, Busy, and RuntimeError for an error of the function.
    """
    with limits.turn(), _Child(function, limits) as child:
        return child.converse(arguments, answer, pulse)


def stop_all() -> None:
    """Kill every process that is reading a file; its caller gets Exceeded."""
    with _lock:
        children = list(_running)
    for child in children:
        child.kill(STOPPED)


class _Child:
    def __init__(self, function, limits):
        self.limits, self.ended_for, self.pid_fd = limits, "", None
        self.connection = start_child(function, limits.cpu_s, limits.memory_bytes)
        self.watch = threading.Timer(limits.wall_s, self.kill, [f"{limits.wall_s:g} seconds"])
        self.watch.daemon = True

    def __enter__(self):
        kind, pid = self._receive(None)
        assert kind == "pid"
        self.pid_fd = os.pidfd_open(pid)
        self.watch.start()
        with _lock:
            _running.add(self)
        return self

    def __exit__(self, *_):
        with _lock:
            _running.discard(self)
        self.watch.cancel()
        self.kill("")
        self.connection.close()
        _wait_for_end(self.pid_fd)
        os.close(self.pid_fd)

    def kill(self, limit):
        self.ended_for = self.ended_for or limit
        with suppress(ProcessLookupError, OSError):
            signal.pidfd_send_signal(self.pid_fd, signal.SIGKILL)

    def converse(self, arguments, answer, pulse):
        self._send(arguments)
        while True:
            kind, content = self._receive(pulse)
            if kind != "ask":
                return self._result(kind, content)
            self._send(answer(*content))

    def _send(self, content):
        with suppress(OSError):  # it has ended: the next message says why
            self.connection.send(content)

    def _receive(self, pulse):
        while pulse and not self.connection.poll(PULSE_S):
            pulse()
        try:
            return pickle.loads(self.connection.recv_bytes(self.limits.answer_bytes))
        except GONE:
            if not self.connection.readable and not self.ended_for:  # the message is too long
                raise Exceeded(f"{self.limits.answer_bytes // MIB} MB for its contents") from None
            raise Exceeded(self.ended_for or f"{self._time()} or {self._memory()}") from None

    def _result(self, kind, content):
        if kind in ("memory", "time"):
            raise Exceeded(self._memory() if kind == "memory" else self._time())
        if kind == "raised":
            raise RuntimeError(content)
        return content

    def _time(self):
        return f"{self.limits.cpu_s} seconds of computing"

    def _memory(self):
        return f"{self.limits.memory_bytes // MIB} MB of memory"


def _wait_for_end(pid_fd):
    ended = select.poll()
    ended.register(pid_fd, select.POLLIN)
    ended.poll(END_S * 1000)
