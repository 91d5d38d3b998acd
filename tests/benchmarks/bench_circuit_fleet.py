"""The covers of 2,000 machines that share 20 circuits, as the job computes them: each circuit once.

`python -m tests.benchmarks.bench_circuit_fleet`; progress is printed as a page would show it. The baseline is one
solved state of the largest circuit, in the same run. `--machines` and `--circuits` make it smaller. The second run
reads every machine, as after a new release; the third follows a night without changes, the fourth one with a change of
one machine in a hundred. Times of these runs are of the processor, in one process. At last all tables are computed
anew twice, in one process and in several (`--processes`): elapsed seconds, which other work on the computer lengthens.
"""

import argparse
import time
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from statistics import median
from types import MappingProxyType

from tests.benchmarks.databases import FOLDER, set_up

MACHINES, CIRCUITS = 2_000, 20
CHANGED = 100  # one machine of so many has a change between two runs
DATABASE = FOLDER / "circuits.sqlite3"
NOW = datetime(2026, 11, 25, 2, 0, tzinfo=UTC)
DRIFT = 0.06  # difference of the regulators of one circuit from those of the next: enough to count as another circuit


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--machines", type=int, default=MACHINES)
    parser.add_argument("--circuits", type=int, default=CIRCUITS)
    parser.add_argument("--processes", type=int, default=2)
    asked = parser.parse_args()
    FOLDER.mkdir(parents=True, exist_ok=True)
    for old in FOLDER.glob(f"{DATABASE.name}*"):
        old.unlink()
    set_up(f"sqlite:///{DATABASE}")
    in_one_process()
    largest = build(asked.machines, asked.circuits)
    baseline = time_of_one_state(largest)
    runs = [run_covers("first run")]
    forget_reading()
    runs += [run_covers("every machine again"), run_covers("nothing changed")]
    change(asked.machines // CHANGED)
    runs.append(run_covers(f"one in {CHANGED} changed"))
    report(asked, baseline, *runs)
    compare_processes(asked.processes)


def compare_processes(several):
    """Print what it takes to compute all tables anew in one process and in several, seconds elapsed."""
    alone, together = (elapsed_with(processes) for processes in (1, several))
    print(
        f"\nAll tables anew: {alone:.1f} s in one process, {together:.1f} s in {several}: {alone / together:.2f} times"
    )


def elapsed_with(processes):
    from django.conf import settings

    from fleet.models import CircuitCover, MachineCover

    MachineCover.objects.all().delete()
    CircuitCover.objects.all().delete()
    settings.EVALUATION_PROCESSES = processes
    start = time.perf_counter()
    run_covers(f"{processes} process{'' if processes == 1 else 'es'}")
    return time.perf_counter() - start


def in_one_process():
    from django.conf import settings

    settings.EVALUATION_PROCESSES = 1


def build(machines, circuits):
    """Fill an empty database with machines of `circuits` models; return the largest circuit."""
    from django.core.management import call_command

    from fleet.actions import register_machines
    from fleet.actions.register import Entry
    from fleet.circuit.files import write_circuit
    from fleet.models import Area, MachineModel, Site

    call_command("migrate", verbosity=0)
    site = Site.objects.create(code="measured", name="Measured Hospital")
    areas = [Area.objects.create(site=site, name=f"Theatres {n + 1}") for n in range(8)]
    drawn = varied(circuits)
    models = [
        MachineModel.objects.create(
            code=f"type-{n}", manufacturer="Measured Works", name=f"Type {n}", gases=["oxygen", "nitrous-oxide", "air"],
            vaporizer_positions=2, circuit=write_circuit(circuit),
        )
        for n, circuit in enumerate(drawn)
    ]  # fmt: skip
    entries = [
        Entry(
            {
                "asset_number": f"C-{n:05}",
                "model": models[n % len(models)],
                "area": areas[n % len(areas)],
                "in_use_from": date(2020, 1, 1),
            }
        )
        for n in range(machines)
    ]
    register_machines(entries, by=None, at=NOW)
    return max(drawn, key=lambda circuit: len(circuit.components))


def varied(count):
    """Return circuits of the demonstration's models, each with other set pressures than the one before of its kind."""
    from fleet.circuit.files import read_circuit

    folder = Path(__file__).resolve().parents[2] / "config" / "demo" / "circuits"
    kinds = [read_circuit(path.read_text(encoding="utf-8"), title=path.stem) for path in sorted(folder.glob("*.toml"))]
    return [_drifted(kinds[n % len(kinds)], 1 - DRIFT * (n // len(kinds))) for n in range(count)]


def _drifted(circuit, factor):
    components = tuple(
        replace(
            component,
            values=MappingProxyType(
                {**component.values, "output_pressure": component.values["output_pressure"] * factor}
            ),
        )
        if component.kind == "pressure-regulator"
        else component
        for component in circuit.components
    )
    return replace(circuit, title=f"{circuit.title} at {factor:.2f}", components=components)


def time_of_one_state(circuit, repeats=7):
    """Return the median time of the processor, s, of one solved state, from nothing."""
    from fleet.circuit.solver import solve
    from fleet.circuit.usual_states import ordinary_state

    state, seconds = ordinary_state(circuit), []
    for _ in range(repeats):
        start = time.process_time()
        solve(circuit, state)
        seconds.append(time.process_time() - start)
    return median(seconds)


def run_covers(title):
    """Run the job in this process, printing its progress now and then; return its seconds of the processor."""
    from fleet.actions import request_job
    from fleet.circuits.covers.job import CIRCUIT_COVER
    from fleet.jobs.running import run_waiting_job
    from fleet.models import Job

    job = request_job(CIRCUIT_COVER, title=title, params={}, by=None, at=NOW)
    told = [time.perf_counter()]

    def clock():
        if time.perf_counter() - told[-1] > 5:
            told.append(time.perf_counter())
            now = Job.objects.get(pk=job.pk)
            print(f"  {title}: {now.done:,} of {now.total:,}. {now.words}", flush=True)
        return NOW

    start = time.process_time()
    stage = run_waiting_job(job.pk, clock=clock)
    seconds = time.process_time() - start
    job.refresh_from_db()
    print(f"{title}: {stage} in {seconds:.1f} s. {job.result}{job.error}", flush=True)
    return seconds


def forget_reading():
    """Let the next run read every machine, as that of another program does."""
    from fleet.models import CircuitReading

    CircuitReading.objects.all().delete()


def change(count):
    """Record a safety feature of some machines."""
    from fleet.actions import record_feature_state
    from fleet.models import Machine

    for machine in Machine.objects.order_by("pk")[:count]:
        day = NOW.date()
        record_feature_state(machine, "flush-guard", "fitted", from_date=day, evidence="seen", by=None, at=NOW)


def report(asked, baseline, first, again, unchanged, few):
    from fleet.models import CircuitCover, MachineCover

    tables = list(CircuitCover.objects.without_table().order_by("components"))
    rows = [
        ("one solved state of the largest circuit", baseline),
        ("a circuit, table, protections and closing sets, median", median(cover.seconds for cover in tables)),
        (f"the slowest, {tables[-1].components} parts at most", max(cover.seconds for cover in tables)),
        ("a machine whose circuit is known, read", again / asked.machines),
        ("a machine without any change", unchanged / asked.machines),
        (f"a machine, one in {CHANGED} changed", few / asked.machines),
        ("all machines, nothing known", first),
    ]
    print(f"\n{asked.machines:,} machines, {len(tables)} circuits, {MachineCover.objects.computed().count():,} covers")
    width = max(len(name) for name, _ in rows)
    print(f"{'':{width}}  {'ms':>12}  times one state")
    for name, seconds in rows:
        print(f"{name:{width}}  {seconds * 1e3:12,.3f}  {seconds / baseline:15,.4f}")


if __name__ == "__main__":
    main()
