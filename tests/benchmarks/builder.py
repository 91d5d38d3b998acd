"""A fleet to measure on: 5,000 machines with 200,000 results. The same rows at every build of one version.

SQLite has no statistics of its tables, as in use.
"""

import hashlib
import random
import time
from datetime import UTC, date, datetime
from datetime import time as time_of_day
from pathlib import Path

from django.core.management import call_command
from django.db import connection, transaction

from config.demo.scenario import create_scenario, read_scenario
from fleet.models import Component, FeatureState, Instrument, Machine
from inspections.actions import load_procedures
from inspections.at_bench.procedure_files import DIRECTORY
from inspections.models import Finding, Inspection, InspectionStep, Procedure, Reading, Result
from tests.benchmarks.fleet_rows import FleetRows
from tests.benchmarks.patterns import make_patterns
from tests.benchmarks.signed_rows import SignedRows
from tests.benchmarks.work_rows import WorkRows

ROOT = Path(__file__).resolve().parents[2]


# The sources that decide the rows: this package, those of the demonstration, and those of signed records.
SOURCES = (
    "tests/benchmarks/builder.py", "tests/benchmarks/patterns.py", "tests/benchmarks/*_rows.py",
    "tests/benchmarks/copying.py",
    "config/demo/scenario.*", "config/demo/machine_circuits.py", "config/demo/circuits/*.toml",
    "config/demo/simulator.py", "config/demo/truth.py", "config/demo/bench_work.py", "config/demo/gas_flow.py",
    "inspections/records/content.py", "inspections/at_bench/applicable_steps.py", "inspections/at_bench/step_rows.py",
    "inspections/at_bench/step_content.py", "inspections/at_bench/slots.py",
    "inspections/at_bench/evaluation.py",
    "inspections/actions/*.py", "inspections/bench/*.py", "inspections/procedures/*.toml",
)  # fmt: skip


def version(today):
    """Return a digest of the sources and of the month, because the due work depends on the day."""
    digest = hashlib.sha256(f"{today:%Y-%m}".encode())
    for path in sorted(path for pattern in SOURCES for path in ROOT.glob(pattern)):
        digest.update(path.read_bytes())
    return digest.hexdigest()


def build(path, *, today=None, say=print):
    """Build the fleet in the SQLite file `path`, which the settings name, unless it holds this version of it."""
    today = today or date.today()
    mark = Path(f"{path}.version")
    if mark.exists() and mark.read_text() == version(today):
        call_command("migrate", verbosity=0)
        return
    connection.close()
    for old in path.parent.glob(f"{path.name}*"):
        old.unlink()
    call_command("migrate", verbosity=0)
    started = time.perf_counter()
    with connection.cursor() as cursor:
        cursor.execute("PRAGMA synchronous=OFF")
        cursor.execute("PRAGMA cache_size=-600000")
        cursor.execute("PRAGMA temp_store=MEMORY")
    with transaction.atomic():
        Builder(today).build()
    connection.close()
    mark.write_text(version(today))
    say(f"Built {counts()} in {time.perf_counter() - started:.0f} s.")


def counts():
    """The number of rows that matter, in words."""
    shown = (Machine, Inspection, InspectionStep, Result, Reading, Finding, FeatureState, Component, Instrument)
    return ", ".join(f"{each.objects.count():,} {each._meta.verbose_name_plural}" for each in shown)


class Builder(FleetRows, SignedRows, WorkRows):
    """Fills an empty, migrated database; in steps, because later rows refer to earlier ones."""

    def __init__(self, today):
        self.today = today
        self.now = datetime.combine(today, time_of_day(8), tzinfo=UTC)
        self.rng = random.Random("fleet")

    def build(self):
        load_procedures(DIRECTORY, at=self.now)
        self.people = create_scenario(read_scenario(), self.today)
        self.make_places_and_people()
        self.make_models()
        self.make_instruments()
        self.yearly = Procedure.objects.get(code="yearly")
        self.half_yearly = Procedure.objects.get(code="half-yearly")
        self.patterns = make_patterns([self.yearly, self.half_yearly], self.areas[0], self.people, self.today)
        self.make_machines()
        self.make_parts()
        self.make_retrofits()
        self.make_signed()
        self.make_findings()
        self.make_statuses()
        self.make_open()
        self.make_in_progress()
        self.make_judgements_and_limits()
