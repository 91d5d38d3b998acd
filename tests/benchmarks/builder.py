"""A fleet to measure on: 5,000 machines with 200,000 outcomes. The same rows at every build of one version.

Run it alone with `python -m tests.benchmarks.builder`; it builds nothing that is there already.
"""

import hashlib
import itertools
import json
import random
import shutil
import time
from datetime import UTC, date, datetime, timedelta
from datetime import time as time_of_day
from pathlib import Path

from django.contrib.auth.models import Group
from django.core.management import call_command
from django.db import connection, transaction
from django.utils import timezone

from config.demo.scenario import create_scenario, read_scenario
from fleet.actions import register_machines
from fleet.actions.register import Entry
from fleet.models import (
    Area,
    Calibration,
    Component,
    Duty,
    DutyChange,
    Evidence,
    FeatureState,
    Instrument,
    InstrumentScale,
    Link,
    Machine,
    MachineModel,
    ModelFeature,
    Person,
    Site,
    State,
)
from inspections.actions import load_procedures, open_inspection
from inspections.models import (
    CriterionJudgement,
    Finding,
    Inspection,
    InspectionStep,
    LimitOverride,
    Outcome,
    Procedure,
    Reading,
    SignedRecord,
    Stage,
)
from inspections.procedure_files import DIRECTORY
from inspections.querysets import due_window
from tests.benchmarks.copying import Numbers, copy_rows, make_table
from tests.benchmarks.patterns import make_patterns, readings_of

MACHINES = 5_000
OUTCOMES = 200_000
MODELS = 20
SITES = 12
AREAS_PER_SITE = 8
TECHNICIANS = 30
INSTRUMENTS = 240
ON_BENCH = 24
LONG_HISTORY = 60  # signed inspections of the machine that has the most
BATCH = 2_000

HERE = Path(__file__).parent
ROOT = HERE.parents[1]


# What decides the rows: this package, what it takes from the demonstration, and what makes a signed record.
SOURCES = (
    "tests/benchmarks/builder.py", "tests/benchmarks/patterns.py", "tests/benchmarks/copying.py",
    "config/demo/scenario.*", "config/demo/parts.py", "config/demo/simulator.py", "config/demo/truth.py",
    "inspections/record.py", "inspections/steps.py", "inspections/slots.py", "inspections/evaluation.py",
    "inspections/actions/*.py", "inspections/bench/*.py", "inspections/procedures/*.toml",
)  # fmt: skip


def version(today):
    """A digest of the sources and of the month, since what is due depends on the day."""
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
    with connection.cursor() as cursor:
        cursor.execute("ANALYZE")
    connection.close()
    mark.write_text(version(today))
    say(f"Built {counts()} in {time.perf_counter() - started:.0f} s.")


def counts():
    """The number of rows that matter, in words."""
    shown = (Machine, Inspection, InspectionStep, Outcome, Reading, Finding, FeatureState, Component, Instrument)
    return ", ".join(f"{each.objects.count():,} {each._meta.verbose_name_plural}" for each in shown)


class Builder:
    def __init__(self, today):
        self.today = today
        self.now = datetime.combine(today, time_of_day(8), tzinfo=UTC)
        self.rng = random.Random("fleet")

    def build(self):
        load_procedures(DIRECTORY, at=self.now)
        self.people = create_scenario(read_scenario(), self.today)
        self._places_and_people()
        self._models()
        self._instruments()
        self.yearly = Procedure.objects.get(code="yearly")
        self.half_yearly = Procedure.objects.get(code="half-yearly")
        self.patterns = make_patterns([self.yearly, self.half_yearly], self.areas[0], self.people, self.today)
        self._machines()
        self._parts()
        self._retrofits()
        self._signed()
        self._findings()
        self._duties()
        self._open()
        self._on_bench()
        self._judgements_and_limits()

    def _places_and_people(self):
        sites = Site.objects.bulk_create(
            Site(code=f"site-{n:02}", name=f"Measured Hospital {n:02}", altitude_m=40 * n, time_zone="Europe/London")
            for n in range(SITES - Site.objects.count())
        )
        Area.objects.bulk_create(
            Area(site=site, name=f"Theatres {n + 1}", minimum_machines=10) for site in sites for n in range(AREAS_PER_SITE)
        )
        self.areas = list(Area.objects.select_related("site").order_by("pk"))
        group = Group.objects.get(name="technician")
        added = Person.objects.bulk_create(
            Person(username=f"technician-{n:02}", first_name="Measured", last_name=f"Person {n:02}", password="!")
            for n in range(TECHNICIANS)
        )
        group.user_set.add(*added)
        self.technicians = added

    def _models(self):
        """More types like those of the scenario, each with two features otherwise."""
        types = list(MachineModel.objects.prefetch_related("features").order_by("code"))
        for number in range(MODELS - len(types)):
            like = types[number % len(types)]
            rows = {row.feature: row.state for row in like.features.all()}
            for code in self.rng.sample(sorted(rows), 2):
                rows[code] = State.NOT_KNOWN if rows[code] == State.FITTED else State.FITTED
            like.pk = None
            like._state.adding = True
            like.code, like.name = f"{like.code}-m{number}", f"{like.name} mark {number}"
            like.save()
            ModelFeature.objects.bulk_create(
                ModelFeature(model=like, feature=code, state=state) for code, state in rows.items()
            )
            types[number % len(types)] = MachineModel.objects.prefetch_related("features").get(code=like.code)
        self.models = list(MachineModel.objects.prefetch_related("features").order_by("code"))

    def _instruments(self):
        kinds = list(Instrument.objects.usable().in_calibration_on(self.today).prefetch_related("scales"))
        sites = list(Site.objects.all())
        made = Instrument.objects.bulk_create(
            Instrument(code=f"X-{n:03}", name=kinds[n % len(kinds)].name, site=sites[n % len(sites)])
            for n in range(INSTRUMENTS)
        )
        InstrumentScale.objects.bulk_create(
            InstrumentScale(**{**_values(scale), "instrument_id": instrument.pk})
            for n, instrument in enumerate(made)
            for scale in kinds[n % len(kinds)].scales.all()
        )
        Calibration.objects.bulk_create(
            Calibration(
                instrument=instrument,
                calibrated_on=self.today - timedelta(days=365 * years + self.rng.randrange(-60, 340)),
                due_on=self.today - timedelta(days=365 * (years - 1) - 340),
                certificate=f"{instrument.code}-{years}",
            )
            for instrument in made
            for years in (1, 2, 3)
        )

    def _machines(self):
        """Machines of every model in every area; each copies the parts of its model's pattern."""
        entries = []
        copied = [machine.machine.pk for patterns in self.patterns.values() for machine in patterns]
        for number in range(MACHINES - len(copied)):
            model = self.models[number % len(self.models)]
            fields = {
                "asset_number": f"A-{number:05}",
                "serial": f"S{self.rng.randrange(10**8):08}",
                "model": model,
                "area": self.areas[self.rng.randrange(len(self.areas))],
                "built_year": (model.first_built or 1990) + self.rng.randrange(9),
                "in_use_from": self.today - timedelta(days=3 * 365 + self.rng.randrange(4000)),
            }
            entries.append(Entry(fields))
        by, at = self.people["planner"], self.now - timedelta(days=3 * 365)
        self.machines = register_machines(entries, by=by, at=at)

    def _parts(self):
        components, links = Numbers(Component), Numbers(Link)
        rows = []
        for machine in self.machines:
            pattern = self.patterns[machine.model.code][0]
            first_part, first_link = pattern.components[0].pk, pattern.links[0].pk
            part = components.take(len(pattern.components)) - first_part
            link = links.take(len(pattern.links)) - first_link
            rows.append((pattern.machine.pk, machine.pk, part, link, str(machine.in_use_from)))
        make_table("machine_copies", ("pattern", "machine", "part", "link", "day"), rows)
        common = {"machine_id": "c.machine", "fitted_on": "c.day"}
        join = "old.machine_id = c.pattern"
        copy_rows(Component, "machine_copies c", join=join, id="old.id + c.part", **common)
        copy_rows(
            Link, "machine_copies c", join=join, id="old.id + c.link",
            source_id="old.source_id + c.part", target_id="old.target_id + c.part", **common,
        )  # fmt: skip
        self.part_shift = {machine: part for _, machine, part, _, _ in rows}

    def _retrofits(self):
        """One machine in eight was altered in the past two years: a stretch ended and another began."""
        altered = [machine.pk for machine in self.machines[::8]]
        ended, begun = [], []
        for state in FeatureState.objects.filter(machine__in=altered).exclude(state=State.FITTED).order_by("pk"):
            if self.rng.random() < 0.2:
                state.until_date = self.today - timedelta(days=self.rng.randrange(1, 700))
                ended.append(state)
                begun.append(
                    FeatureState(
                        machine_id=state.machine_id, feature=state.feature, state=State.FITTED,
                        from_date=state.until_date, evidence=Evidence.RETROFIT, note="Fitted in the workshop",
                        by=self.people["technician"], recorded_at=self.now,
                    )  # fmt: skip
                )
        FeatureState.objects.bulk_update(ended, ["until_date"], batch_size=300)
        FeatureState.objects.bulk_create(begun, batch_size=BATCH)

    def _work(self):
        """Yield machine, procedure and days ago of each inspection signed, the long history first."""
        for number in range(LONG_HISTORY):
            yield self.machines[0], (self.half_yearly, self.yearly)[number % 2], 11 * number + 3
        for number, machine in enumerate(self.machines[1:]):
            if number % 10 < 7:
                yield machine, self.yearly, 2 + (number * 37) % 360
            yield machine, self.half_yearly, 2 + (number * 53) % 180
        for number, machine in enumerate(self.machines[1:]):
            yield machine, self.yearly, 365 + (number * 41) % 360

    def _signed(self):
        numbers = {model: Numbers(model) for model in (Inspection, InspectionStep, Outcome, Reading)}
        rows, made, outcomes = [], [], Outcome.objects.count()
        for machine, procedure, days_ago in self._work():
            if outcomes >= OUTCOMES:
                break
            pattern = self._choose(machine).inspections[procedure.code]
            outcomes += pattern.outcomes
            made.append(self._signed_inspection(machine, pattern, days_ago, numbers[Inspection].take(1)))
            rows.append(self._shifts(pattern, made[-1], numbers))
        Inspection.objects.bulk_create(made, batch_size=BATCH)
        columns = ("pattern", "inspection", "machine", "part", "step", "outcome", "reading", "jitter", "at")
        make_table("copies", columns, rows)
        self._copy_contents()

    def _choose(self, machine):
        sound, leaking, creeping = self.patterns[machine.model.code]
        return self.rng.choices((sound, leaking, creeping), (94, 3, 3))[0]

    def _signed_inspection(self, machine, pattern, days_ago, pk):
        at = self.now - timedelta(days=days_ago)
        due_on = at.date() + timedelta(days=self.rng.randrange(-20, 30))
        opens_on, closes_on = due_window(due_on, pattern.inspection.procedure.window_days)
        return Inspection(
            **_values(pattern.inspection)
            | {
                "id": pk, "machine_id": machine.pk, "due_on": due_on, "opens_on": opens_on, "closes_on": closes_on,
                "booked_on": at.date(), "planned_at": at - timedelta(days=90), "opened_at": at - timedelta(hours=2),
                "signed_at": at, "technician_id": self.rng.choice(self.technicians).pk,
            }
        )  # fmt: skip

    def _shifts(self, pattern, inspection, numbers):
        """What to add to the keys of the pattern's rows to get those of the copy; each block of keys is unbroken."""
        firsts = self._firsts(pattern.inspection)
        sizes = (pattern.inspection.steps_made, pattern.outcomes, pattern.readings)
        taken = [
            numbers[model].take(size) - first
            for model, size, first in zip((InspectionStep, Outcome, Reading), sizes, firsts, strict=True)
        ]
        own = self.part_shift[inspection.machine_id] - self._part_offset(pattern.inspection.machine_id)
        jitter = self.rng.uniform(-0.01, 0.01)
        at = inspection.signed_at.strftime("%Y-%m-%d %H:%M:%S")
        return (pattern.inspection.pk, inspection.pk, inspection.machine_id, own, *taken, jitter, at)

    def _firsts(self, inspection):
        if not hasattr(inspection, "firsts"):
            steps = inspection.steps.order_by("pk").values_list("pk", flat=True)
            inspection.steps_made = len(steps)
            firsts = [steps[0]]
            for model in (Outcome, Reading):
                firsts.append(model.objects.filter(step__in=steps).order_by("pk").values_list("pk", flat=True)[0])
            inspection.firsts = firsts
        return inspection.firsts

    def _part_offset(self, machine):
        """How far the parts of a pattern lie from those of the first pattern of the same model, which is copied."""
        if not hasattr(self, "offsets"):
            self.offsets = {
                each.machine.pk: each.components[0].pk - patterns[0].components[0].pk
                for patterns in self.patterns.values()
                for each in patterns
            }
        return self.offsets[machine]

    def _copy_contents(self):
        steps = "copies c JOIN inspections_inspectionstep s ON s.inspection_id = c.pattern"
        of_step = "old.step_id = s.id"
        copy_rows(
            InspectionStep, "copies c", join="old.inspection_id = c.pattern", id="old.id + c.step",
            inspection_id="c.inspection", component_id="old.component_id + c.part",
        )  # fmt: skip
        copy_rows(
            Outcome, steps, join=of_step, id="old.id + c.outcome", step_id="old.step_id + c.step",
            value="old.value * (1 + c.jitter)",
        )  # fmt: skip
        copy_rows(
            Reading, steps, join=of_step, id="old.id + c.reading", step_id="old.step_id + c.step", entered_at="c.at"
        )
        copy_rows(
            SignedRecord, "copies c", join="old.inspection_id = c.pattern",
            id="c.inspection", inspection_id="c.inspection", signed_at="c.at",
        )  # fmt: skip

    def _findings(self):
        """A finding for each failed outcome, one in ten open, and fault reports."""
        failed = Outcome.objects.failed().filter(findings=None).select_related("step__inspection").order_by("pk")
        rows = [self._finding(outcome=outcome) for outcome in failed]
        rows += [self._finding(machine=machine) for machine in self.rng.sample(self.machines, 1500)]
        rows += [self._finding(machine=self.machines[0]) for _ in range(LONG_HISTORY)]
        Finding.objects.bulk_create(rows, batch_size=BATCH)

    def _finding(self, *, outcome=None, machine=None):
        at = outcome.step.inspection.signed_at if outcome else self.now - timedelta(days=self.rng.randrange(700))
        is_open = self.rng.random() < 0.1
        return Finding(
            machine_id=outcome.step.inspection.machine_id if outcome else machine.pk,
            origin=Finding.Origin.OUTCOME if outcome else Finding.Origin.FAULT,
            outcome=outcome,
            severity="essential" if outcome and outcome.step.is_essential else "other",
            title=f"{outcome.step}: {outcome.label.lower()}, {outcome.decision}" if outcome else "Castor drags",
            opened_by=self.people["technician"],
            opened_at=at,
            closed_by=None if is_open else self.people["technician2"],
            closed_at=None if is_open else at + timedelta(days=self.rng.randrange(1, 20)),
            closing_note="" if is_open else "Put right and tried.",
            work_hours=None if is_open else self.rng.choice(("0.5", "1.0", "2.5")),
        )

    def _duties(self):
        """Some machines are withdrawn, some retired."""
        chosen = self.rng.sample(self.machines[1:], 400)
        for duty, machines in ((Duty.WITHDRAWN, chosen[:150]), (Duty.RETIRED, chosen[150:])):
            Machine.objects.filter(pk__in=[machine.pk for machine in machines]).update(duty=duty)
            DutyChange.objects.bulk_create(
                DutyChange(
                    machine=machine, duty=duty, changed_on=self.today - timedelta(days=30), reason="Found unfit",
                    by=self.people["technician"], recorded_at=self.now - timedelta(days=30),
                )  # fmt: skip
                for machine in machines
            )
        self.retired = {machine.pk for machine in chosen[150:]}

    def _open(self):
        """Each machine has its next inspections: some overdue, some booked, most to come."""
        rows = []
        for number, machine in enumerate(self.machines):
            if machine.pk in self.retired:
                continue
            rows.append(self._open_inspection(machine, self.yearly, (number * 29) % 390 - 40))
            rows.append(self._open_inspection(machine, self.half_yearly, (number * 31) % 200 - 20))
        Inspection.objects.bulk_create(rows, batch_size=BATCH)

    def _open_inspection(self, machine, procedure, days):
        due_on = self.today + timedelta(days=days)
        opens_on, closes_on = due_window(due_on, procedure.window_days)
        is_booked = days < 40 and self.rng.random() < 0.5
        return Inspection(
            machine=machine, procedure=procedure, due_on=due_on, opens_on=opens_on, closes_on=closes_on,
            stage=Stage.BOOKED if is_booked else Stage.PLANNED,
            booked_on=self.today + timedelta(days=self.rng.randrange(40)) if is_booked else None,
            technician=self.rng.choice(self.technicians) if is_booked else None,
            planned_by=self.people["planner"], planned_at=self.now - timedelta(days=200),
        )  # fmt: skip

    def _on_bench(self):
        """Put booked yearly inspections on the bench by the real action, most of their readings entered."""
        booked = Inspection.objects.booked().filter(procedure=self.yearly).exclude(machine__duty=Duty.RETIRED)
        technicians = itertools.cycle([self.people["technician"], *self.technicians])
        for inspection in booked.with_place().order_by("pk")[:ON_BENCH]:
            technician = next(technicians)
            Inspection.objects.filter(pk=inspection.pk).update(technician=technician)
            inspection.refresh_from_db()
            open_inspection(inspection, by=technician, at=self.now, temperature_c=21.0)
            self._enter_like_pattern(inspection, technician)

    def _enter_like_pattern(self, inspection, technician):
        pattern = self.patterns[inspection.machine.model.code][0].inspections["yearly"].inspection
        by_place = {(step.code, step.subject): step for step in inspection.steps.that_apply()}
        read = Reading.objects.filter(step__inspection=pattern).select_related("step").order_by("pk")
        Reading.objects.bulk_create(
            Reading(**_values(row) | {"step_id": by_place[place].pk, "entered_by_id": technician.pk, "entered_at": self.now})
            for row in read
            if (place := (row.step.code, row.step.subject)) in by_place
        )

    def _judgements_and_limits(self):
        CriterionJudgement.objects.bulk_create(
            CriterionJudgement(
                machine=machine, criterion=criterion, answer=self.rng.choice(("met", "not met")),
                reason="Looked at with the theatre staff", by=self.people["manager"], at=self.now,
            )  # fmt: skip
            for machine in self.machines[::5]
            for criterion in ("R8", "R10")
        )
        LimitOverride.objects.bulk_create(
            LimitOverride(
                machine_model=model, test_code="low-pressure-leak", outcome_key="leak", upper=150, unit="mL/min",
                reason="Figure of the maker", source="Service manual, leak test", from_date=self.today,
                by=self.people["planner"], at=self.now,
            )  # fmt: skip
            for model in self.models
        )


def _values(row):
    """The columns of a row without its key, to make another row from."""
    return {field.attname: getattr(row, field.attname) for field in row._meta.concrete_fields if field.name != "id"}


def main():
    from tests.benchmarks.databases import SQLITE

    build(SQLITE)
    print(counts())


if __name__ == "__main__":
    main()
