"""Ten thousand fault reports from one network address: what is stored, and what ordinary pages feel of it.

    python -m tests.benchmarks.bench_label_reports [--reports 10000] [--way serve|served]

serve is what `make serve` starts, on SQLite; served is gunicorn with two processes on PostgreSQL, and Redis.
"""

import argparse
import re
import statistics
import sys
import tempfile
import threading
import time
from collections import Counter
from pathlib import Path

from tests.benchmarks.bench_attacks import serve, served, setting

SENDERS = 4
MACHINES = 50
TICKET = re.compile(r'name="ticket" value="([^"]+)"')


def main():
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks.bench_label_reports")
    parser.add_argument("--reports", type=int, default=10_000)
    parser.add_argument("--way", choices=("serve", "served"), default="serve")
    options = parser.parse_args()
    with {"serve": serve, "served": served}[options.way]() as address, tempfile.TemporaryDirectory() as folder:
        people = setting(Path(folder))
        return report(options, address, people[0], make_labels())


def make_labels():
    """Return the addresses of the fault reports of MACHINES machines."""
    from django.utils import timezone

    from fleet.models import Machine, Site
    from inspections.actions import issue_label

    Site.objects.update(has_label_page=True, fault_phone="ext. 4417")
    labels = [issue_label(machine, by=None, at=timezone.now()) for machine in Machine.objects.all()[:MACHINES]]
    return [f"{label.get_absolute_url()}fault/" for label in labels]


def report(options, address, person, paths):
    """Print the figures. Return 1 if more was stored than one address may send, or anything failed."""
    from inspections.label_page.rate_limits import REPORTS
    from inspections.models import FaultReport, Finding

    answers, times, stop = Counter(), [], threading.Event()
    pages = threading.Thread(target=measure, args=[address, person, times, stop])
    pages.start()
    start = time.perf_counter()
    share = options.reports // SENDERS
    senders = [threading.Thread(target=attack, args=[address, paths, share, answers]) for _ in range(SENDERS)]
    for one in senders:
        one.start()
    for one in senders:
        one.join()
    seconds = time.perf_counter() - start
    stop.set()
    pages.join()
    stored = FaultReport.objects.count()
    print(f"{options.way}: {sum(answers.values())} reports in {seconds:.0f} s, answers {dict(answers)}")
    print(f"stored {stored} reports, {Finding.objects.filter(origin='fault report').count()} findings")
    print(f"a page meanwhile: median {1000 * statistics.median(times):.0f} ms, most {1000 * max(times):.0f} ms")
    hours = 1 + int(seconds // REPORTS.seconds) + 1  # a period may end meanwhile
    return int(stored > hours * REPORTS.most or set(answers) - {302, 429})


def attack(address, paths, count, answers):
    from tests.services.visitor import FAILURES, Visitor

    visitor, tickets = Visitor(address), {}
    for number in range(count):
        path = paths[number % len(paths)]
        try:
            if path not in tickets:
                tickets[path] = TICKET.search(visitor.get(path).text)[1]
            texts = {"what": f"Fault {number}", "where": "Theatre", "who": "Nobody", "ticket": tickets[path]}
            answers[visitor.post(path, texts).status] += 1
        except FAILURES as error:
            answers[type(error).__name__] += 1


def measure(address, person, times, stop):
    from tests.services.visitor import Visitor

    visitor = Visitor(address)
    visitor.log_in(person["username"], person["password"])
    while not stop.is_set():
        start = time.perf_counter()
        visitor.get("/machines/")
        times.append(time.perf_counter() - start)
        time.sleep(0.1)


if __name__ == "__main__":
    sys.exit(main())
