"""The functions that the tests run in a separate process."""

import os
import time
from contextlib import suppress


def answer(value, *, ask):
    return ask(value)


def spin(*, ask):
    while True:
        pass


def spin_in_vain_to_catch(*, ask):
    while True:
        with suppress(Exception):
            spin(ask=ask)


def sleep(*, ask):
    time.sleep(600)


def sleep_after_telling(*, ask):
    ask(os.getpid())
    time.sleep(600)


def grow(*, ask):
    held = []
    while True:
        held.append(bytes(10_000_000))


def talk(length, *, ask):
    return bytes(length)


def fail(*, ask):
    raise ValueError("words that may quote the file")


def die(*, ask):
    os._exit(3)


def rights(*, ask):
    """Return the names of its environment, and whether it may write a file and start a process with more memory."""
    try:
        with open("/tmp/bobbin-must-not-write", "wb") as file:
            file.write(b"1")
            file.flush()
        may_write = True
    except OSError:
        may_write = False
    return sorted(os.environ), may_write, os.nice(0)
