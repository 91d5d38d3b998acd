"""Solving a circuit: one state of each demonstration machine, the table of its single faults, and growth with its size.

`python -m tests.benchmarks.bench_circuit`. The baseline is a dense linear system of a hundred unknowns, solved ten
times over by numpy in the same run: the cost of a step of the solver without any element. Cover tables are compared
with the solver of single states in tests/fleet/circuit/oracle, in seconds of the processor.
"""

import statistics
import time
from functools import partial
from pathlib import Path

import numpy as np

from tests.benchmarks.harness import Timing, measure, table

BASELINE = "10 dense systems of 100"
CIRCUITS = Path(__file__).resolve().parents[2] / "config" / "demo" / "circuits"
CHAINS = (10, 20, 40, 80, 160)
LARGE = 40  # components from which a circuit counts as large


def main():
    from fleet.circuit.cover import cover_table
    from fleet.circuit.usual_states import ordinary_state

    circuits = demonstration()
    states = {circuit.title: ordinary_state(circuit) for circuit in circuits}
    cases = {BASELINE: dense_systems()}
    cases |= {named(circuit): solving(circuit, states[circuit.title]) for circuit in circuits}
    print(table("One state, from nothing", measure(cases, repeats=11), baseline=BASELINE))
    print(table("\nGrowth: pipes in a row", measure(growth(), repeats=11), baseline=BASELINE))
    largest = max(circuits, key=lambda circuit: len(circuit.components))
    timings = [*measure({BASELINE: dense_systems()}), *single_faults(largest, states[largest.title])]
    start = time.perf_counter()
    found = cover_table(largest)
    timings.append(Timing(f"cover table, {found.causes} causes, {len(found.unsolved)} unsolved", (seconds(start),)))
    print(table(f"\nSingle faults of {named(largest)}", timings, baseline=BASELINE), flush=True)
    compare_tables()
    compare_closing()
    compare_states(circuits, states)


def compare_tables():
    """Print cover tables of all demonstration machines: all causes at once, and cause by cause by the oracle."""
    from fleet.circuit.causes import causes_of
    from fleet.circuit.cover import cover_table
    from tests.fleet.circuit.oracle.cover import oracle_table

    print("\nCover tables, s of the processor: at once, cause by cause, ratio")
    circuits = demonstration(smallest=0)
    cover_table(circuits[0]), oracle_table(circuits[0])  # both have loaded what they need
    sizes, taken = [], []
    for circuit in circuits:
        once, single = (processor(partial(how, circuit)) for how in (cover_table, oracle_table))
        sizes.append(len(circuit.components) * len(causes_of(circuit)))
        taken.append((once, single))
        print(f"{named(circuit):30} {once:6.2f} {single:6.2f} {single / once:6.1f}", flush=True)
    once, single = (np.polyfit(np.log(sizes), np.log(column), 1)[0] for column in zip(*taken, strict=True))
    print(f"Growth with parts times causes: exponent {once:.2f} at once, {single:.2f} cause by cause")


def compare_closing():
    """Print closing sets of machines that lack something: all safety features at once, and one by one by the oracle."""
    from fleet.circuit.closing import closing_sets
    from fleet.circuit.cover import cover_table
    from tests.fleet.circuit.oracle.cover import oracle_closing

    print("\nClosing sets, s of the processor: at once, one by one, ratio")
    for circuit in demonstration(smallest=0):
        found = cover_table(circuit)
        if closing_sets(circuit, found):
            once, single = (processor(partial(how, circuit, found)) for how in (closing_sets, oracle_closing))
            print(f"{named(circuit):30} {once:6.2f} {single:6.2f} {single / once:6.1f}", flush=True)


def compare_states(circuits, states):
    """Print what one state takes, from nothing and from itself, against the oracle."""
    from fleet.circuit.solver import solve
    from tests.fleet.circuit.oracle.solver import solve as solve_alone

    print("\nOne state, ratio to the oracle: from nothing, from the same state")
    for circuit in circuits:
        ratios = []
        for is_warm in (False, True):
            best = {}
            for how in (solve, solve_alone):
                start = how(circuit, states[circuit.title]) if is_warm else None
                run = partial(how, circuit, states[circuit.title], start=start)
                best[how] = min(processor(run) for _ in range(11))
            ratios.append(best[solve] / best[solve_alone])
        print(f"{named(circuit):30} {ratios[0]:6.2f} {ratios[1]:6.2f}", flush=True)


def processor(run):
    """Return the seconds of the processor that a call takes."""
    start = time.process_time()
    run()
    return time.process_time() - start


def seconds(start):
    return time.perf_counter() - start


def demonstration(smallest=LARGE):
    """The circuits of the demonstration with that many components or more, smallest first."""
    from fleet.circuit.files import read_circuit

    circuits = [read_circuit(path.read_text(), title=path.stem) for path in sorted(CIRCUITS.glob("*.toml"))]
    large = [circuit for circuit in circuits if len(circuit.components) >= smallest]
    return sorted(large, key=lambda circuit: len(circuit.components))


def named(circuit):
    return f"{circuit.title}, {len(circuit.components)} parts"


def dense_systems():
    rng = np.random.default_rng(1)
    matrix, right = rng.random((100, 100)) + 100 * np.eye(100), rng.random(100)

    def ten():
        for _ in range(10):
            np.linalg.solve(matrix, right)

    return ten


def solving(circuit, state, faults=(), start=None):
    from fleet.circuit.solver import solve

    return lambda: solve(circuit, state, faults, start=start)


def growth():
    """Circuits of 10 to 160 filters between a pipeline and a flow control."""
    from fleet.circuit.state import State
    from tests.fleet.circuit.plumber import LPM, built, component

    cases = {BASELINE: dense_systems()}
    for size in CHAINS:
        codes = [f"filter-{n:03}" for n in range(size - 2)]
        components = [
            component("inlet", "pipeline-inlet", "oxygen"),
            *(component(code, "filter", "oxygen") for code in codes),
        ]
        components.append(component("control", "flow-control", "oxygen"))
        order = ["inlet", *codes, "control"]
        lines = [f"{one}.out > {other}.in" for one, other in zip(order, order[1:], strict=False)]
        state = State("growth", "growth", {"control": {"set_flow": 5 * LPM}})
        cases[f"{size} parts"] = solving(built(components, *lines), state)
    return cases


def single_faults(circuit, state):
    """Every single failure of every component, from the whole machine on; one timing over all, none of which may
    fail.
    """
    from fleet.circuit.elements import ELEMENTS
    from fleet.circuit.solver import solve
    from fleet.circuit.state import Fault

    whole = solve(circuit, state)
    faults = [
        Fault(component.code, mode) for component in circuit.components for mode in ELEMENTS[component.kind].failures
    ]
    taken, imbalances = [], []
    for fault in faults:
        start = time.perf_counter()
        found = solve(circuit, state, [fault], start=whole)
        taken.append(seconds(start))
        imbalances.append(found.imbalance)
    print(f"\n{len(faults)} single faults, slowest {max(taken) * 1e3:.1f} ms, imbalance at most {max(imbalances):.1e}")
    return [
        Timing(f"one of {len(faults)} single faults, median", (statistics.median(taken),)),
        Timing(f"all {len(faults)} single faults", (sum(taken),)),
    ]


if __name__ == "__main__":
    main()
