"""Deciding many stored results under another limit, beside the rule for one result called for each.

`python -m tests.benchmarks.bench_decisions [--results 1000000]`. The baseline decides a hundredth of them one by one.
"""

import argparse
from math import inf

from tests.benchmarks.harness import measure, table

SHARE = 100


def main():
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.bench_decisions", description=__doc__)
    parser.add_argument("--results", type=int, default=1_000_000)
    number = parser.parse_args().results
    limit, measured, few = given(number)
    cases = {
        f"{number:,} in arrays": lambda: in_arrays(measured, limit),
        f"{number // SHARE:,} one by one": lambda: one_by_one(few, limit),
    }
    timings = measure(cases, repeats=5, warm_up=1)
    print(table("Stored results under another limit", timings, baseline=f"{number // SHARE:,} one by one"))
    together, alone = (timing.median for timing in timings)
    print(f"for as many results: {alone * SHARE / together:,.0f} times faster than one by one")


def given(number):
    """A limit, arrays of results around it, and the first of them as rows."""
    import numpy as np

    from inspections.bench.limits import SEEN, Limit
    from inspections.bench.many_decisions import Measured
    from inspections.bench.uncertainty import coverage_factor

    rng = np.random.default_rng(1)
    values, std = rng.normal(100, 5, number), rng.uniform(0.1, 2, number)
    dof = np.where(rng.random(number) < 0.5, inf, 8.0)
    expanded = std * np.where(np.isinf(dof), coverage_factor(inf), coverage_factor(8.0))
    limit = Limit("x", "other", "Other", 90.0, 110.0, "%", "source", "edition", SEEN)
    few = list(zip(*(array[: number // SHARE].tolist() for array in (values, std, dof)), strict=True))
    return limit, Measured.of(values, std, expanded, dof), few


def in_arrays(measured, limit):
    from inspections.bench.many_decisions import decide_many

    return decide_many(measured, limit)


def one_by_one(rows, limit):
    from inspections.bench.decisions import decide
    from inspections.bench.judging import settle

    return [settle(decide(value, std, limit, dof=dof), limit, None).decision for value, std, dof in rows]


if __name__ == "__main__":
    main()
