"""The helper that forks a child for each file: python -m fleet.confined.nursery SOCKET

Started only by fleet/confined/starting.py, without the environment of its parent, which holds secrets. It ends when
the other end of its socket is closed, that is with its parent; the system then kills its children.
"""

import ctypes
import json
import os
import resource
import signal
import socket
import sys
from importlib import import_module
from multiprocessing.connection import Connection

PR_SET_PDEATHSIG = 1  # Source: prctl(2), Linux
LESS_URGENT = 10
OPEN_FILES = 64
MOST_ORDER = 4096


class OutOfTime(BaseException):
    """The child has used its processor time. Not an Exception, so that no `except Exception` of a reader catches it."""


def main(descriptor: int) -> None:
    """Fork a child for each request until the other end is closed."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)  # the system reaps children that ended
    os.nice(LESS_URGENT)
    with socket.socket(fileno=descriptor) as orders:
        while True:
            order, descriptors, _, _ = socket.recv_fds(orders, MOST_ORDER, 1)
            if not order:
                return
            _raise_child(orders, json.loads(order), *descriptors)


def _raise_child(orders, order, descriptor):
    module, name = order["function"].split(":")
    called = getattr(import_module(module), name)
    me = os.getpid()
    if os.fork() == 0:
        try:
            die_with(me)
            orders.close()
            confine(order["cpu_s"], order["memory_bytes"])
            read_one(called, Connection(descriptor))
        finally:
            os._exit(0)
    os.close(descriptor)


def read_one(called, connection) -> None:
    """Call the function with the arguments that arrive, and send its result."""

    def ask(*question):
        connection.send(("ask", question))
        return connection.recv()

    connection.send(("pid", os.getpid()))
    try:
        connection.send(("done", called(*connection.recv(), ask=ask)))
    except MemoryError:
        connection.send(("memory", None))
    except OutOfTime:
        connection.send(("time", None))
    except (EOFError, BrokenPipeError):
        pass  # the caller no longer waits
    except Exception as error:  # noqa: BLE001  the parent must learn of it, and of no more than its kind
        connection.send(("raised", f"{called.__name__} raised {type(error).__name__}"))


def die_with(parent: int) -> None:
    """Have the system kill this process when its parent ends."""
    ctypes.CDLL(None, use_errno=True).prctl(PR_SET_PDEATHSIG, signal.SIGKILL)
    if os.getppid() != parent:
        os._exit(0)


def confine(cpu_s: int, memory_bytes: int) -> None:
    """Set the limits of this process. Shortly after the first time limit the system kills it."""
    signal.signal(signal.SIGXCPU, _out_of_time)
    resource.setrlimit(resource.RLIMIT_CPU, (cpu_s, cpu_s + 2))
    resource.setrlimit(resource.RLIMIT_AS, (_mapped_bytes() + memory_bytes,) * 2)
    resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    resource.setrlimit(resource.RLIMIT_NOFILE, (OPEN_FILES, OPEN_FILES))


def _out_of_time(*_):
    raise OutOfTime


def _mapped_bytes() -> int:
    with open("/proc/self/statm") as figures:
        return int(figures.read().split()[0]) * resource.getpagesize()


if __name__ == "__main__":
    main(int(sys.argv[1]))
