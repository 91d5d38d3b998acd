"""Holds off the search for unreachable cycles while many states are solved."""

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def no_collection() -> Iterator[None]:
    """Within this, Python does not look for unreachable cycles of objects; what nothing refers to still goes at once.

    Solving makes hardly any cycle, and very many objects that are still in use: to go through all of them again and
    again took a seventh of the time of a cover table.
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
