"""Holds off the search for unreachable cycles while many states are solved."""

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def no_collection() -> Iterator[None]:
    """Within this, Python does not look for unreachable cycles of objects; what nothing refers to still goes at once.

    Solving makes hardly any cycle, and very many objects that are still in use: to go through all of them again and
    again took a seventh of the time of a cover table. At the end they join the oldest objects without being gone
    through: the first search afterwards took another twelfth. What is left of a cycle goes with the next full search.
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            if not gc.get_freeze_count():  # else a server keeps objects of its own apart
                gc.freeze()
                gc.unfreeze()
            gc.enable()
