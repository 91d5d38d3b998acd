"""Computes the covers of several circuits, each in whichever of several processes is free.

A process that computes gets a circuit as data, knows no database and returns data (run_confined); that works below a
Celery worker as well, whose processes may have no children of Python's own kind.
"""

import logging
from collections import deque
from collections.abc import Iterator, Mapping
from concurrent.futures import FIRST_COMPLETED, Future, ThreadPoolExecutor, wait

from fleet.circuit.solution import NoSolution
from fleet.circuit.structure import Circuit
from fleet.circuits.covers.circuit_as_json import circuit_to_dict
from fleet.circuits.covers.computing import Computed, compute
from fleet.circuits.covers.shipped import computed_of
from fleet.confined import Busy, Exceeded, Limits, run_confined
from fleet.work_progress import Tell, tell_nobody

ELSEWHERE = "fleet.circuits.covers.computed_elsewhere:compute_as_data"
LIMITS = Limits(cpu_s=600, wall_s=1800.0, memory_bytes=1024 * 1024 * 1024, answer_bytes=256 * 1024 * 1024)
PULSE_S = 1.0  # while this process only waits for the others, it says so this often
log = logging.getLogger(__name__)


def computed_covers(
    circuits: Mapping[str, Circuit], *, processes: int, tell: Tell = tell_nobody
) -> Iterator[tuple[str, Computed | None]]:
    """Yield the key of each circuit with what was computed of it, as it is ready; None if it has no solution.

    processes  how many compute at a time, this one among them
    tell       called often with circuits done, circuits in all, and words; an exception from it ends the work
    """
    waiting, asked, done = deque(circuits), {}, 0
    with ThreadPoolExecutor(max(processes - 1, 1), thread_name_prefix="cover") as pool:
        try:
            while waiting or asked:
                tell(done, len(circuits), "circuits computed")
                while waiting and len(asked) < processes - 1:
                    key = waiting.popleft()
                    asked[pool.submit(_elsewhere, circuits[key])] = key
                ready = list(_ready(asked))
                if not ready and waiting:
                    key = waiting.popleft()
                    ready = [(key, _here(circuits[key]))]
                elif not ready:
                    wait(asked, timeout=PULSE_S, return_when=FIRST_COMPLETED)
                for each in ready:
                    done += 1
                    yield each
        finally:
            for future in asked:  # the job was cancelled: what has not begun is not computed any more
                future.cancel()


def _ready(asked: dict[Future, str]) -> Iterator[tuple[str, Computed | None]]:
    for future in [each for each in asked if each.done()]:
        yield asked.pop(future), future.result()


def _here(circuit: Circuit) -> Computed | None:
    try:
        return compute(circuit)
    except NoSolution:
        return None


def _elsewhere(circuit: Circuit) -> Computed | None:
    """Return what another process computes of a circuit; from this one if that ends before it answers."""
    try:
        said = run_confined(ELSEWHERE, circuit_to_dict(circuit), circuit.title, limits=LIMITS)
    except (Busy, Exceeded, RuntimeError, OSError):
        log.warning("a process did not compute its circuit; it is computed here", exc_info=True)
        return _here(circuit)
    return None if isinstance(said, str) else computed_of(said, said["seconds"])
