"""Server time of lists beside an empty page: of the two longest each heading, sort and filter, first and last page.

    BENCH_FOLDER=/big python -m tests.benchmarks.event_rows
    BENCH_FOLDER=/big python -m tests.benchmarks.bench_lists [--only TEXT] [--repeats 3] [--database URL]

It measures the database that bench_pages builds; in BENCH_FOLDER a copy of it that bench_pages multiplied. On SQLite,
which works within the server, time is that of the processor, so that other programs on the computer do not count.
"""

import argparse
import re
import time
from importlib import import_module

from tests.benchmarks.databases import set_up

BEYOND = 10**6  # a page that no list has
EMPTY = "empty page"


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--only", default="")
    parser.add_argument("--repeats", type=int, default=3)
    parser.add_argument("--database", default="")
    asked = parser.parse_args()
    set_up(*filter(None, [asked.database]))
    import_module("config.wsgi")  # as a server starts
    from django.test import override_settings

    from tests.benchmarks.bench_pages import asked as asked_once
    from tests.benchmarks.bench_pages import queries_table
    from tests.benchmarks.harness import measure, table

    with override_settings(ROOT_URLCONF="tests.benchmarks.urls"):
        cases = list_cases(asked.only)
        queries = {name: asked_once(name, case) for name, case in cases.items()}
        clock = time.perf_counter if asked.database else time.process_time
        timings = measure(cases, repeats=asked.repeats, warm_up=0, clock=clock, baseline=EMPTY)
    print(table("Server time of lists", timings, baseline=EMPTY))
    print(queries_table(queries), flush=True)


def list_cases(only=""):
    """Return name -> function of each page whose name has `only`, asked for by a planner, who sees every site."""
    from django.test import Client
    from django.urls import reverse

    from fleet.models import Person

    client = Client(SERVER_NAME="localhost")
    client.force_login(Person.objects.get(username="planner"))
    found = {EMPTY: "/empty/"}
    for title, base, sorts, queries in (_machines(), *_work(), *_others()):
        address = reverse(base)
        for query in (*(f"sort={sort}" for sort in sorts), *queries):
            if only not in f"{title[0]} {query}":
                continue
            asked = f"{address}?{'&'.join(filter(None, [title[1], query]))}"
            found[f"{title[0]} {query}"] = asked
            if (last := _last_page(client, asked)) > 1:
                found[f"{title[0]} {query} last"] = f"{asked}&page={last}"
    return {name: lambda address=address: client.get(address) for name, address in found.items()}


def _last_page(client, address):
    """Return the number of pages, as the refusal of one beyond the last names it."""
    refused = client.get(f"{address}&page={BEYOND}").content.decode()
    return int(re.search(r"the list has ([0-9]+) page", refused)[1])


def _sorts(table):
    names = [name for name, column in table.base_columns.items() if column.orderable is not False]
    return [f"{sign}{name}" for name in names for sign in ("", "-")]


def _machines():
    from fleet.models import Area, MachineModel
    from fleet.tables.machines import MachineTable

    area, model = Area.objects.order_by("pk").last(), MachineModel.objects.order_by("pk").last()
    filters = (
        "", f"site={area.site_id}", f"area={area.pk}", f"model={model.pk}", "status=withdrawn", "status=any",
        "feature=ratio-protection&state=not+fitted", "feature=ratio-protection&state=not+known",
        "q=theatre", "q=A-01234", "q=S12", "q=mark", "q=zzz",
    )  # fmt: skip
    return ("machines", ""), "fleet:machines", _sorts(MachineTable), filters


def _others():
    """The other lists that grow with machines or years: each sort from both ends, filtered and searched."""
    from fleet.models import Area
    from fleet.tables import components, jobs
    from inspections.tables import attempts, due_dates, fault_reports, findings, notices, trends

    site = f"site={Area.objects.order_by('pk').last().site_id}"
    searched = ("", "q=S12", "q=zzz")
    yield (
        ("components", ""), "fleet:component_list", _sorts(components.ComponentTable),
        (*searched, "q=2310", site, "kind=vaporizer", "presence=removed"),
    )  # fmt: skip
    yield ("instruments", ""), "fleet:instruments", [], ("", "q=S12")
    yield ("jobs", ""), "fleet:jobs", _sorts(jobs.JobTable), ("",)
    yield ("away", ""), "fleet:away_machines", [], searched
    for view, table in (("open", findings.FindingTable), ("closed", findings.ClosedFindingTable)):
        filters = (*searched, "q=leak", site, "severity=essential")
        yield (f"findings {view}", f"view={view}"), "inspections:findings", _sorts(table), filters
    for view, table in (("waiting", fault_reports.FaultReportTable), ("settled", fault_reports.SettledReportTable)):
        yield (f"fault reports {view}", f"view={view}"), "inspections:fault_reports", _sorts(table), (*searched, site)
    narrowed = (*searched, site, "answer=missed", "excuse=in+use")
    yield ("due dates", ""), "inspections:due_dates", _sorts(due_dates.DueDateTable), narrowed
    yield ("notices", ""), "inspections:notices", _sorts(notices.NoticeTable), ("", "q=regulator", "q=zzz")
    yield ("attempted", ""), "inspections:attempted", _sorts(attempts.AttemptedTable), ("", site)
    yield ("trends", ""), "inspections:trends", _sorts(trends.TrendTable), ("", site)
    for name in ("review", "parts_due"):
        yield (name, ""), f"inspections:{name}", [], ("", site)


def _work():
    from fleet.models import Area, Person
    from inspections.models import Procedure
    from inspections.views.work import TABLES, InspectionTable

    area = Area.objects.order_by("pk").last()
    procedure, technician = Procedure.objects.get(code="yearly"), Person.objects.get(username="technician-01")
    filters = (
        "", f"site={area.site_id}", f"area={area.pk}", f"procedure={procedure.pk}", f"technician={technician.pk}",
        "stage=booked", "q=theatre", "q=A-01234", "q=S12", "q=zzz",
    )  # fmt: skip
    for view in ("due", "overdue", "booked", "bench", "countersign", "incomplete", "signed", "void"):
        more = ("days=90",) if view == "due" else ()
        sorts = _sorts(TABLES.get(view, InspectionTable))
        yield (view, f"view={view}"), "inspections:work", sorts, (*filters, *more)


if __name__ == "__main__":
    main()
