"""Time some functions in one run and print each beside a named baseline of that same run."""

import os
import platform
import statistics
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Timing:
    name: str
    seconds: tuple[float, ...]  # one per repeat, in the order measured

    @property
    def median(self) -> float:
        return statistics.median(self.seconds)

    @property
    def spread(self) -> float:
        """Half the distance between the quartiles, in seconds; 0 for a single repeat."""
        if len(self.seconds) < 2:
            return 0.0
        low, _, high = statistics.quantiles(self.seconds, n=4)
        return (high - low) / 2


def measure(
    cases: Mapping[str, Callable[[], object]],
    *,
    repeats: int = 15,
    warm_up: int = 2,
    clock: Callable[[], float] = time.perf_counter,
    baseline: str = "",
) -> list[Timing]:
    """Return a timing for each case. Cases take turns, so that a busy moment of the computer affects all of them.

    baseline  the case that takes a turn before each other one, where a few turns would not make a steady measure
    """
    for case in cases.values():
        for _ in range(warm_up):
            case()
    seconds = {name: [] for name in cases}
    for _ in range(repeats):
        for name in cases:
            for each in [baseline, name] if baseline not in ("", name) else [name]:
                start = clock()
                cases[each]()
                seconds[each].append(clock() - start)
    return [Timing(name, tuple(values)) for name, values in seconds.items()]


def table(title: str, timings: list[Timing], *, baseline: str) -> str:
    """Return the medians as text, in milliseconds, each with its ratio to the baseline. KeyError if it is not there."""
    base = {timing.name: timing.median for timing in timings}[baseline]
    width = max(len(timing.name) for timing in timings)
    lines = [title, f"{platform.python_implementation()} {platform.python_version()}, {os.cpu_count()} cores"]
    lines.append(f"{'':{width}}  median ms  +/- ms  times {baseline}")
    for timing in timings:
        lines.append(
            f"{timing.name:{width}}  {timing.median * 1e3:9.2f}  {timing.spread * 1e3:6.2f}"
            f"  {timing.median / base:{6 + len(baseline)}.2f}"
        )
    return "\n".join(lines)
