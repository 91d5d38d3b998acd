"""Files from outside are read in a separate process with limits of time and memory, which ends with its parent.

Plain Python, for Linux. Each process that reads files starts one helper (`nursery`), which has the modules loaded and
forks a child for each file. A child costs milliseconds, and a process with threads never forks.
"""

from fleet.confined.limits import AT_ONCE, IN_BACKGROUND, Busy, Exceeded, Limits
from fleet.confined.running import run_confined, stop_all

__all__ = ["AT_ONCE", "IN_BACKGROUND", "Busy", "Exceeded", "Limits", "run_confined", "stop_all"]
