"""Import of a register of 10,000 machines, beside reading the file and writing the same rows with nothing else.

Goal: at most twice the baseline. The baseline reads the file with csv.reader and writes every row that the import wrote
(machines, places, status, features, circuit, journal) with sqlite3's executemany into empty tables of the same
database. `python -m tests.benchmarks.bench_import` takes a few minutes.
"""

import csv
import os
import sqlite3
import tempfile
import time
from datetime import date
from pathlib import Path

from tests.benchmarks.databases import variables

MACHINES = 10_000
COLUMNS = ("asset_number", "serial", "model", "site", "area", "in_use_from")


def main():
    with tempfile.TemporaryDirectory(prefix="bobbin-bench-import-") as folder:
        database = Path(folder) / "import.sqlite3"
        os.environ.update(variables(f"sqlite:///{database}"))
        import django

        django.setup()
        empty = _prepared(database)
        register = _register(Path(folder) / "register.csv")
        ours = _timed(lambda: _import(register))
        added = _added(database, empty)
        bare = _timed(lambda: _bare(register, added, empty))
    print("; ".join(f"{len(rows):,} {table}" for table, rows in added.items() if rows))
    print(f"Import of {MACHINES:,} rows: {ours:.1f} s of processor time")
    print(f"Reading the file and a bare insert of the same rows: {bare:.1f} s")
    print(f"Ratio {ours / bare:.2f}; goal 2")


def _timed(work):
    start = time.process_time()
    work()
    return time.process_time() - start


def _prepared(database):
    """Make the tables, models and areas; return a copy of them."""
    from django.core.management import call_command

    from config.demo.scenario import create_scenario, read_scenario

    call_command("migrate", verbosity=0)
    create_scenario(read_scenario(), date.today())
    copy = database.with_suffix(".empty")
    with sqlite3.connect(database) as source, sqlite3.connect(copy) as target:
        source.backup(target)
    return copy


def _register(path):
    from fleet.models import Area, MachineModel

    models = [str(model) for model in MachineModel.objects.order_by("pk")[:8]]
    areas = list(Area.objects.select_related("site").order_by("pk")[:12])
    with path.open("w", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(COLUMNS)
        for number in range(MACHINES):
            area = areas[number % len(areas)]
            writer.writerow([f"BI-{number:05}", f"BI{number:07}", models[number % len(models)], area.site.name,
                             area.name, "2020-03-02"])  # fmt: skip
    return path


def _import(register):
    from django.core.management import call_command

    with open(os.devnull, "w") as nothing:
        call_command("import_register", str(register), stdout=nothing)


def _added(imported, empty):
    """Return the rows that the import added: {table: rows}."""
    with sqlite3.connect(imported) as source, sqlite3.connect(empty) as before:
        tables = [name for (name,) in source.execute(
            "SELECT name FROM sqlite_master WHERE type = 'table' AND name NOT LIKE 'sqlite%'"
        )]  # fmt: skip
        last = {name: before.execute(f'SELECT coalesce(max(rowid), 0) FROM "{name}"').fetchone() for name in tables}
        found = {name: source.execute(f'SELECT * FROM "{name}" WHERE rowid > ?', last[name]) for name in tables}
        return {name: rows.fetchall() for name, rows in found.items()}


def _bare(register, rows_of, empty):
    with register.open(newline="") as file:
        list(csv.reader(file))
    with sqlite3.connect(empty) as target:
        for table, rows in rows_of.items():
            if rows:
                target.executemany(f'INSERT INTO "{table}" VALUES ({",".join("?" * len(rows[0]))})', rows)


if __name__ == "__main__":
    main()
