"""The search for a safety notice and the search box at 100,000 components, beside bare SQL in the same run.

`python -m tests.benchmarks.bench_notices [--components 100000]`, on SQLite in a folder of its own. The baseline is the
plain statement that somebody would type: a range of lots, and a part of a text. It decides nothing of a lot that is
missing or written otherwise.
"""

import argparse
import os
import tempfile
import tracemalloc
from datetime import date

from tests.benchmarks.databases import variables
from tests.benchmarks.harness import measure, table

PER_MACHINE = 20
RANGE, LIKE = "bare SQL range", "bare SQL LIKE"
KINDS = ("pressure-regulator", "flowmeter", "check-valve", "vaporizer", "apl-valve")


def main():
    arguments = argparse.ArgumentParser(prog="python -m tests.benchmarks.bench_notices", description=__doc__)
    arguments.add_argument("--components", type=int, default=100_000)
    given = arguments.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        os.environ.update(variables(f"sqlite:///{folder}/notices.sqlite3") | {"DATA_DIR": folder})
        import django
        from django.core.management import call_command

        django.setup()
        call_command("migrate", verbosity=0)
        person = fill(given.components)
        report(given.components, person)


def fill(components):
    """Machines with 20 components each, of five kinds; one lot of fifty is blank and one is written otherwise."""
    from fleet.acting.scope import history
    from fleet.models import Area, Component, Machine, MachineModel, Person, Site

    with history():
        site = Site.objects.create(code="s", name="Measured hospital", altitude_m=0)
        area = Area.objects.create(site=site, name="Theatres")
        models = [MachineModel.objects.create(code=f"m-{n}", manufacturer="Works", name=f"M {n}") for n in range(20)]
        day = date(2015, 1, 1)
        machines = Machine.objects.bulk_create(
            Machine(asset_number=f"A-{n:05}", serial=f"S{n:06}", model=models[n % 20], area=area, in_use_from=day)
            for n in range(components // PER_MACHINE)
        )
        Component.objects.bulk_create(
            (
                Component(machine=machines[n // PER_MACHINE], kind=KINDS[n % 5], label=f"C {n}", code=f"c-{n}",
                          serial=f"X{n:07}", lot=lot_of(n), fitted_on=day)
                for n in range(components)
            ),
            batch_size=2000,
        )  # fmt: skip
        return Person.objects.create(username="measured", is_superuser=True)


def lot_of(number):
    lot = number % 997
    return "" if number % 50 == 7 else f"l {lot}" if number % 50 == 9 else f"L{lot:04}"


def report(components, person):
    from django.db import connection

    from config.search.groups import groups
    from inspections.models import NoticeCriterion
    from inspections.notice_search.searching import found_items, looked_at

    def names(kind):
        return [NoticeCriterion(what="component", kind=kind, lots="L0100 to L0149")]

    every = [one for kind in KINDS for one in names(kind)]

    def sql(statement, *values):
        with connection.cursor() as cursor:
            return cursor.execute(statement, values).fetchall()

    of_range = "SELECT id FROM fleet_component WHERE lot BETWEEN %s AND %s"
    of_text = "SELECT id FROM fleet_component WHERE lot LIKE %s OR serial LIKE %s OR maker_part LIKE %s"
    cases = {
        RANGE: lambda: sql(of_range, "L0100", "L0149"),
        "notice, one kind of five": lambda: list(found_items(names(KINDS[0]))),
        "notice, every kind": lambda: list(found_items(every)),
    }
    print(table(f"Safety notice among {components:,} components", measure(cases, repeats=5, warm_up=1), baseline=RANGE))
    part = {
        LIKE: lambda: sql(of_text, "%99123%", "%99123%", "%99123%"),
        "search box": lambda: groups(person, "99123"),
    }
    print(table("Part of a serial number", measure(part, repeats=7, warm_up=1), baseline=LIKE))
    print(f"looked at {looked_at(every)}, by bare SQL {len(cases[RANGE]())} found")
    tracemalloc.start()
    found = sum(1 for _ in found_items(every))
    print(f"{found} items found; most memory of Python meanwhile: {tracemalloc.get_traced_memory()[1] / 1e6:.1f} MB")


if __name__ == "__main__":
    main()
