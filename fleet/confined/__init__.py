"""Files from outside are read in a process of their own, with limits of time and memory, that ends with its parent.

Plain Python, for Linux. Each process that reads files keeps one helper (`nursery`), which has the modules loaded and
forks a child for each file; so a child costs milliseconds, and a process with threads never forks.
"""

from fleet.confined.limits import AT_ONCE, IN_BACKGROUND, Busy, Exceeded, Limits
from fleet.confined.running import run_confined, stop_all

__all__ = ["AT_ONCE", "IN_BACKGROUND", "Busy", "Exceeded", "Limits", "run_confined", "stop_all"]
