"""Recalculating signed records in several processes, beside one process in the same run.

`python -m tests.benchmarks.bench_recalculation [--records 200] [--processes 2]`. Each record has a step of every bench
test. Several must find what one finds, else nothing is timed. By the clock, several help only where processors are
idle; what the job itself still works, reading the store and comparing, is the least that it can take.
"""

import argparse
import os
import tempfile
import time
from pathlib import Path

ALONE = "one process"


def main():
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.bench_recalculation", description=__doc__)
    parser.add_argument("--records", type=int, default=200)
    parser.add_argument("--processes", type=int, default=len(os.sched_getaffinity(0)))
    given = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="bobbin-recalculation-") as folder:
        measure_in(Path(folder), given.records, given.processes)


def measure_in(folder, number, processes):
    from tests.benchmarks.bench_record_paper import signed_inspection
    from tests.benchmarks.databases import set_up, variables
    from tests.benchmarks.harness import measure, table
    from tests.services.bobbin import manage

    url = f"sqlite:///{folder / 'records.sqlite3'}"
    manage("migrate", "--verbosity=0", **variables(url))
    set_up(url)
    _, inspection = signed_inspection(folder)
    several = f"{processes} processes"
    cases = {ALONE: lambda: again(inspection, number, 1), several: lambda: again(inspection, number, processes)}
    assert cases[ALONE]() == cases[several]() == [[]] * number, "several processes find something else than one"
    for clock, words in ((time.perf_counter, "by the clock"), (time.process_time, "processor time of the job alone")):
        timings = measure(cases, repeats=3, warm_up=0, clock=clock)
        print(table(f"{number} records recalculated, {words}", timings, baseline=ALONE))
        print(f"{timings[0].median / timings[1].median:.2f} times less; {os.getloadavg()[0]:.1f} processes wait or run")


def again(inspection, number, processes):
    """Recalculate one record as if it were many: each time it is read anew. Return what differs in each."""
    from inspections.models import Inspection
    from inspections.records.recalculating import recalculated

    loaded = Inspection.objects.select_related("record", "machine__area__site", "machine__model")
    many = (loaded.get(pk=inspection.pk) for _ in range(number))
    return [found for _, found in recalculated(many, number, processes=processes)]


if __name__ == "__main__":
    main()
