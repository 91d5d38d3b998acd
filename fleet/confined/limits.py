"""The limits for reading one file, and the number of files that are read at a time."""

import threading
from collections.abc import Iterator
from contextlib import contextmanager, nullcontext
from dataclasses import dataclass, field

MIB = 1024 * 1024


class Exceeded(Exception):
    """The process exceeded a limit, or was stopped. `what` names the limit."""

    def __init__(self, what: str):
        super().__init__(f"Reading the file took more than {what}.")
        self.what = what


class Busy(Exception):
    """This process already reads as many files as it may at a time."""


class Turns:
    """Allows one caller at a time. `waiting` more wait, each at most `patience_s`; further callers are refused."""

    def __init__(self, *, waiting: int, patience_s: float):
        self._present = threading.BoundedSemaphore(1 + waiting)
        self._one = threading.Semaphore(1)
        self._patience_s = patience_s

    @contextmanager
    def taken(self) -> Iterator[None]:
        """Hold the turn. Raise Busy if it is not free within the time."""
        if not self._present.acquire(blocking=False):
            raise Busy
        try:
            if not self._one.acquire(timeout=self._patience_s):
                raise Busy
            try:
                yield
            finally:
                self._one.release()
        finally:
            self._present.release()


@dataclass(frozen=True)
class Limits:
    """cpu_s is processor time, wall_s elapsed time; without `turns` any number of files is read at a time."""

    cpu_s: int
    wall_s: float
    memory_bytes: int
    answer_bytes: int
    turns: Turns | None = field(default=None, compare=False)

    def turn(self):
        return self.turns.taken() if self.turns else nullcontext()


# A page waits for its file and holds a thread of the web server: one reads, two wait, the other threads stay free.
AT_ONCE = Limits(10, 20.0, 256 * MIB, 32 * MIB, Turns(waiting=2, patience_s=3.0))
IN_BACKGROUND = Limits(60, 180.0, 512 * MIB, 256 * MIB)
