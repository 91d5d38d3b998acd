"""Verifying a store: every record, every row and the journal, beside the bare reading of the same rows.

`python -m tests.benchmarks.bench_verify [--data DIR]`. DIR holds a demonstration (`make demo SERVE=no`); without one a
demonstration is made in a folder of its own, which takes minutes.

The goal is at most twice the time of reading the rows. Verification goes along the chains in batches, so its time
grows with the rows: what a demonstration shows for its records holds for 9,000, which the second table checks on the
parts of one chain.
"""

import argparse
import os
from pathlib import Path

from tests.benchmarks.bench_slips import DEMO, demonstration, environment
from tests.benchmarks.harness import measure, table

GOAL = 2
ROWS = "reading the rows"


def main():
    arguments = argparse.ArgumentParser(prog="python -m tests.benchmarks.bench_verify", description=__doc__)
    arguments.add_argument("--data", type=Path, default=DEMO, help="folder of a demonstration")
    given = arguments.parse_args()
    with demonstration(given.data) as folder:
        import django

        os.environ.update(environment(folder))
        django.setup()
        store()
        growth()


def store():
    """Verify the whole store."""
    from inspections.chain.verification import Verification, verify_store

    seen = Verification()
    assert list(verify_store(seen=seen)) == []
    cases = {ROWS: read_rows, "verify the store": lambda: list(verify_store())}
    timings = measure(cases, repeats=5, warm_up=1)
    print(
        table(f"{seen.records:,} records, {seen.rows:,} rows, {seen.links:,} journal entries", timings, baseline=ROWS)
    )
    ratio = timings[1].median / timings[0].median
    print(f"{ratio:.1f} times reading the rows; goal {GOAL}")


def read_rows():
    """Read all columns of all rows that journal and chains cover, of both themselves, and of the records."""
    from fleet.acting.covered import covered_models
    from fleet.models import JournalEntry, JournalLink
    from inspections.chain.rows import MODELS
    from inspections.models import ChainEntry, SignedRecord

    kept = (JournalEntry, JournalLink, ChainEntry, SignedRecord)
    for model in dict.fromkeys((*covered_models(), *MODELS.values(), *kept)):
        for _ in model._base_manager.order_by("pk").values_list().iterator(2000):
            pass


def growth():
    """Verify a quarter, half and all of the longest chain: the time for each entry must not grow."""
    from django.db.models import Count

    from fleet.models import Site
    from inspections.chain.verification import verify_part
    from inspections.models import ChainEntry

    longest = ChainEntry.objects.values("site").annotate(entries=Count("pk")).order_by("-entries").first()
    site, entries = Site.objects.get(pk=longest["site"]), longest["entries"]
    parts = {f"{entries // share} entries": entries // share for share in (4, 2, 1)}
    cases = {name: lambda last=last: list(verify_part(site, last=last)) for name, last in parts.items()}
    timings = measure(cases, repeats=5, warm_up=1)
    print(table(f"The first entries of the chain of {site}", timings, baseline=timings[0].name))
    each = [timing.median / count for timing, count in zip(timings, parts.values(), strict=True)]
    print("ms for each entry: " + ", ".join(f"{one * 1e3:.2f}" for one in each))


if __name__ == "__main__":
    main()
