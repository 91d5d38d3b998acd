"""Deciding many stored results under another limit, beside the rule for one result called for each, and pandas.

`python -m tests.benchmarks.bench_decisions [--results 1000000]`. The baseline decides a hundredth of them one by one.
Two plain scripts do the same with pandas: one with whole columns, one with a function for each row (of a hundredth).
They need `pip install -c config/constraints.txt -e '.[trials]'`; without pandas they are left out, and that is printed.
"""

import argparse
from importlib.util import find_spec
from math import inf

from tests.benchmarks.harness import measure, table

SHARE = 100
ARRAYS, COLUMNS = "in arrays", "pandas columns"


def main():
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.bench_decisions", description=__doc__)
    parser.add_argument("--results", type=int, default=1_000_000)
    number = parser.parse_args().results
    limit, measured, few = given(number)
    alone = f"{number // SHARE:,} one by one"
    cases = {ARRAYS: lambda: in_arrays(measured, limit), alone: lambda: one_by_one(few, limit)}
    if find_spec("pandas"):
        cases |= pandas_cases(measured, limit, number // SHARE)
    else:
        print("Not compared with pandas: it is not installed.")
    timings = measure(cases, repeats=5, warm_up=1)
    print(table(f"{number:,} stored results under another limit", timings, baseline=alone))
    medians = {timing.name: timing.median for timing in timings}
    for name in cases.keys() - {ARRAYS}:
        share = 1 if name == COLUMNS else SHARE
        print(f"for as many results: {medians[name] * share / medians[ARRAYS]:,.1f} times faster than {name}")


def pandas_cases(measured, limit, few):
    """Two scripts as one would write them in an afternoon; both must decide as the arrays do."""
    from tests.benchmarks.pandas_decisions import by_columns, by_rows, frame_of

    frame = frame_of(measured)
    expected = in_arrays(measured, limit)
    assert (by_columns(frame, limit) == expected).all(), "the columns of pandas decide otherwise"
    assert (by_rows(frame[:few], limit) == expected[:few]).all(), "the rows of pandas decide otherwise"
    return {COLUMNS: lambda: by_columns(frame, limit), f"{few:,} as pandas rows": lambda: by_rows(frame[:few], limit)}


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
