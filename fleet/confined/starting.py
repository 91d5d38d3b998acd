"""One helper (`nursery`) for each process that reads files, started with the first file."""

import json
import os
import socket
import subprocess
import sys
import threading
from multiprocessing.connection import Connection
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
KEPT = ("PATH", "LD_LIBRARY_PATH", "LANG", "PYTHONDONTWRITEBYTECODE")  # others may hold secrets


class _Nursery:
    """`orders` is our end of its socket; None before the first start, and in a process forked after it."""

    def __init__(self):
        self.lock = threading.Lock()
        self.orders = self.process = self.owner = None

    def order(self, order: bytes, descriptor: int) -> None:
        with self.lock:
            if self.owner != os.getpid():
                self._start()
            try:
                socket.send_fds(self.orders, [order], [descriptor])
            except OSError:  # it ended unexpectedly
                self._start()
                socket.send_fds(self.orders, [order], [descriptor])

    def _start(self):
        if self.orders:
            self.orders.close()
        if self.process and self.owner == os.getpid():
            self.process.kill()
            self.process.wait()
        self.orders, theirs = socket.socketpair(socket.AF_UNIX, socket.SOCK_SEQPACKET)
        with theirs:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "fleet.confined.nursery", str(theirs.fileno())],
                cwd=ROOT, env=_environment(), pass_fds=[theirs.fileno()], stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
            )  # fmt: skip
        self.owner = os.getpid()


def _environment():
    return {name: os.environ[name] for name in KEPT if name in os.environ} | {"OPENBLAS_NUM_THREADS": "1"}


_nursery = _Nursery()


def start_child(function: str, cpu_s: int, memory_bytes: int) -> Connection:
    """Return the connection to a new process that calls a function; its first message is its process id."""
    order = json.dumps({"function": function, "cpu_s": cpu_s, "memory_bytes": memory_bytes}).encode()
    ours, theirs = socket.socketpair()
    with theirs:
        _nursery.order(order, theirs.fileno())
    return Connection(ours.detach())
