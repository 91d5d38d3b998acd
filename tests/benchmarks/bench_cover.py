"""The cover report of today and of a year ago beside bare SQL for the same counts, and beside a script with pandas.

    BENCH_FOLDER=/big python -m tests.benchmarks.bench_cover [--repeats 5] [--database URL]

It measures the database that bench_pages builds; in BENCH_FOLDER a copy of it that bench_pages multiplied. Two
baselines in SQL, sent without a model and fetched: the statements that count the history of features, and those that
the report itself counts with, which read kept rows. Goals: the page of today at most 1.5 times, that of a past day at
most 3 times the statements; at least 5 times faster than the script (pandas_cover.py), which reads a workbook and must
find the same numbers. pandas comes with the extra `trials`; without it that line is left out, and this is printed.
"""

import argparse
import os
import tempfile
import time
from contextlib import contextmanager
from datetime import timedelta
from importlib.util import find_spec
from itertools import groupby
from pathlib import Path

from tests.benchmarks.databases import set_up

PAGE, OWN, HISTORY, SCRIPT = (
    "page",
    "its own statements, bare",
    "the history counted in SQL, bare",
    "script with pandas",
)
DAYS_BACK = 365


def main():
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.bench_cover", description=__doc__)
    parser.add_argument("--repeats", type=int, default=5)
    parser.add_argument("--database", default="")
    asked = parser.parse_args()
    set_up(*filter(None, [asked.database]))
    from django.test import override_settings
    from django.utils import timezone

    today = timezone.localdate()
    with override_settings(ROOT_URLCONF="tests.benchmarks.urls"):
        seconds = _of_day(today, today, asked.repeats)
        _of_day(today - timedelta(days=DAYS_BACK), today, asked.repeats)
    if find_spec("pandas"):
        _beside_script(today, seconds)
    else:
        print("Not compared with pandas: it is not installed.")


def _of_day(day, today, repeats):
    """Print the table of one day; return the median seconds of the page."""
    from django.urls import reverse

    from fleet.models import Person
    from tests.benchmarks.harness import measure, table
    from tests.benchmarks.pages import EMPTY, client_of, getter

    ask = getter(client_of(Person.objects.get(username="manager")))
    cases = {
        PAGE: ask(f"{reverse('fleet:cover')}?on={day}"),
        OWN: _replayed(_statements(_report, day, today)),
        HISTORY: _replayed(_statements(_history, day, today)),
        EMPTY: ask("/empty/"),
    }
    timings = measure(cases, repeats=repeats, warm_up=1)
    print(table(f"Cover report of {day}", timings, baseline=OWN), flush=True)
    median = {timing.name: timing.median for timing in timings}
    print(f"{median[PAGE] / median[HISTORY]:.2f} times {HISTORY}; {median[PAGE] / median[EMPTY]:.1f} an empty page\n")
    return median[PAGE]


def _report(day, today):
    """Count as the page does."""
    from fleet.cover_report import build_report

    return build_report(*_asked(day, today))


def _history(day, today):
    """Count the history of the features, as before any row was kept."""
    from fleet.cover_report import report

    machines, wanted, unneeded = _asked(day, today)
    report.feature_totals(machines, wanted, unneeded)
    sites = report.place_totals(machines, wanted, unneeded)
    report.hazard_totals(machines, wanted, unneeded, sum(site.machines for site in sites))


def _asked(day, today):
    from fleet.cover_report import select_machines
    from fleet.cover_report.criteria import CoverFilter
    from fleet.cover_report.queries import Unneeded
    from fleet.models import Person

    wanted, unneeded = CoverFilter(on=day, today=today), Unneeded()
    return select_machines(wanted, Person.objects.get(username="manager"), unneeded), wanted, unneeded


def _statements(count, day, today):
    """Return the statements that `count` sends, with their values."""
    with _watched() as found:
        count(day, today)
    return found


@contextmanager
def _watched():
    from django.db import connection

    found = []

    def noted(execute, sql, params, many, context):
        found.append((sql, params))
        return execute(sql, params, many, context)

    with connection.execute_wrapper(noted):
        yield found


def _replayed(statements):
    """Return a function that sends the statements and fetches every row."""
    from django.db import connection

    def send():
        with connection.cursor() as cursor:
            for sql, params in statements:
                cursor.execute(sql, params)
                cursor.fetchall()

    return send


def _beside_script(today, page):
    """Print how long the script takes over the same data, and assert that it finds the numbers of the report."""
    from fleet.catalogue import FEATURES
    from tests.benchmarks.pandas_cover import counts_of, write_workbook

    report = _report(today, today)
    counted = {each.code for each in report.wanted.counted}
    features = {code: (each.is_unwanted, code in counted) for code, each in FEATURES.items()}
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "register.xlsx"
        write_workbook(path, _rows(today, list(features)), list(features), _not_needed(), _replaces())
        start = time.perf_counter()
        totals, with_gap = counts_of(path, features)
        seconds = time.perf_counter() - start
        size = os.path.getsize(path)
    found = {each.feature.code: (each.covered, each.gap, each.doubt, each.replaced, each.does_not_apply)
             for each in report.totals}  # fmt: skip
    assert totals == found, "the script counts otherwise"
    assert with_gap == {area.pk: area.with_gap for site in report.sites for area in site.areas}
    print(f"{SCRIPT}, {report.machines:,} machines x {len(features)} features, {size / 1e6:.0f} MB: {seconds:.1f} s; "
          f"the page is {seconds / page:.1f} times faster")  # fmt: skip


def _rows(today, codes):
    """Yield the machines of the report: model, area, and each state."""
    from fleet.models import FeatureState

    machines, _, _ = _asked(today, today)
    places = {pk: (model, area) for pk, model, area in machines.order_by("pk").values_list("pk", "model", "area")}
    states = FeatureState.objects.on(today).order_by("machine").values_list("machine", "feature", "state")
    for pk, own in groupby(states.iterator(5000), key=lambda row: row[0]):
        told = {feature: state for _, feature, state in own}
        if pk in places:
            yield (*places.pop(pk), *(told.get(code, "") for code in codes))
    for model, area in places.values():
        yield (model, area, *("" for _ in codes))


def _not_needed():
    from fleet.catalogue import FEATURES
    from fleet.cover_report.queries import Unneeded

    unneeded = Unneeded()
    return [(model, code) for code, feature in FEATURES.items() for model in unneeded.models(feature)]


def _replaces():
    from fleet.catalogue import FEATURES

    return [(code, other) for code, feature in FEATURES.items() for other in feature.fulfilled_by]


if __name__ == "__main__":
    main()
