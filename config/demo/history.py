"""Two years of work on the simulated fleet, done by the real actions on a simulated calendar."""

import random
from datetime import UTC, datetime, time, timedelta

from django.db import transaction

from config.demo.earlier_procedures import COMPLETE_FOR
from config.demo.habits import NO_TEST_LUNG, habit_of
from config.demo.machine_circuits import fit_exclusion_bar, fit_wide_scavenging
from config.demo.scenario import HISTORY
from config.demo.simulator import Simulator
from config.demo.truth import draw_fault, truth_of
from fleet.actions import record_feature_state, withdraw_machine
from fleet.models import Evidence, Instrument, Machine, State
from inspections.actions import (
    begin_all_called_for,
    book_inspection,
    close_finding,
    confirm_reading,
    countersign_inspection,
    enter_reading,
    load_procedures,
    open_inspection,
    plan_inspection,
    plan_retest,
    record_replacement,
    release_machine,
    report_fault,
    set_not_tested,
    sign_inspection,
)
from inspections.at_bench.procedure_files import DIRECTORY
from inspections.at_bench.reading_entry import entry_at
from inspections.deciding.retests import passing_retest_of
from inspections.models import Finding, Inspection, Procedure, Severity, Stage

AGAIN = "was incomplete."  # the note of an inspection that is planned once more
LEFT_INCOMPLETE = timedelta(days=70)
FAULT_REPORTS = [
    "Castor of the trolley drags",
    "Oxygen flowmeter bobbin sticks at low flow",
    "Drawer does not stay shut",
    "Bag mount loose",
    "Ventilator display dims after warm-up",
    "Absorber latch stiff",
]


class History:
    """Simulates the work of the department week by week; `people` maps usernames to persons."""

    def __init__(self, people, today):
        self.people = people
        self.first_day = today - HISTORY
        self.last_day = today - timedelta(days=1)
        self.technicians = [people[name] for name in ("technician", "technician2", "technician3")]
        self.rng = random.Random("calendar")
        machines = Machine.objects.with_place().order_by("asset_number")
        self.truths = {machine.pk: truth_of(machine, self.first_day) for machine in machines}
        self.simulators = {}

    def run(self):
        """Plan the first inspections, then simulate every week up to the last day."""
        self._plan_first()
        monday = self.first_day - timedelta(days=self.first_day.weekday())
        while monday <= self.last_day:
            if monday >= self.last_day - COMPLETE_FOR:
                load_procedures(DIRECTORY, at=_morning(monday))  # once: what is the same is not loaded again
            self._retrofits(monday)
            self._faults(monday)
            self._work(monday)
            monday += timedelta(days=7)

    def inspect(self, inspection, day, *, technician=None, hour=9, habit=""):
        """Book, measure and sign one inspection on a day. Return it, signed."""
        technician = technician or self._technician_for(inspection.machine)
        at = datetime.combine(day, time(hour, 10), tzinfo=UTC)
        with transaction.atomic():
            if inspection.stage == Stage.PLANNED:
                book_inspection(inspection, technician=technician, booked_on=day, by=self.people["planner"], at=at)
            open_inspection(inspection, by=technician, at=at, temperature_c=round(self.rng.uniform(19, 23), 1))
            done = self._measure(inspection, day, technician, at, habit=habit)
            sign_inspection(inspection, by=technician, at=max(at + timedelta(hours=2), done))
        return inspection

    def repair_at_bench(self, inspection, component, day, *, hour=9, **fitted):
        """Inspect, replace a component where it failed, and test again what that calls for. Return it, signed."""
        technician = self._technician_for(inspection.machine)
        at = datetime.combine(day, time(hour, 10), tzinfo=UTC)
        with transaction.atomic():
            open_inspection(inspection, by=technician, at=at)
            done = self._measure(inspection, day, technician, at)
            repaired = {"by": technician, "at": max(at + timedelta(hours=1), done)}
            failed = inspection.steps.filter(test_code="supply-failure", subject=component.gas).get()
            record_replacement(failed, component.circuit_code, **fitted, **repaired)
            self.truths[inspection.machine_id].repair(day)
            begin_all_called_for(inspection, **repaired)
            untested = inspection.steps.filter(readings=None, not_tested_reason="")
            done = self._measure(inspection, day, technician, repaired["at"], among=untested)
            sign_inspection(inspection, by=technician, at=max(at + timedelta(hours=3), done))
        return inspection

    def leave_open(self, inspection, day, *, steps):
        """Start an inspection on a day and measure its first steps only."""
        technician = self._technician_for(inspection.machine)
        at = datetime.combine(day, time(7, 30), tzinfo=UTC)
        open_inspection(inspection, by=technician, at=at)
        self._measure(inspection, day, technician, at, steps=steps)

    def retest(self, machine, day):
        """Repair, retest and release a withdrawn machine on a day. Return the retest."""
        at = datetime.combine(day, time(8), tzinfo=UTC)
        self.truths[machine.pk].repair(day)
        findings = Finding.objects.open().filter(machine=machine)
        retest = plan_retest(machine, findings, due_on=day, by=self.people["planner"], at=at)
        technician = self._technician_for(machine)
        self.inspect(retest, day, technician=technician, hour=10)
        other = next(person for person in self.technicians if person != technician)
        countersign_inspection(retest, by=other, at=at + timedelta(hours=5))
        why = "Repaired, and what had failed passed again."
        release_machine(machine, retest=retest, reason=why, by=other, at=at + timedelta(hours=6))
        return retest

    def _plan_first(self):
        procedures = {p.code: p for p in Procedure.objects.filter(interval_months__isnull=False)}
        at = datetime.combine(self.first_day, time(7), tzinfo=UTC)
        for number, machine in enumerate(Machine.objects.with_place().order_by("asset_number")):
            first = self.first_day + timedelta(days=(number * 37) % 350)
            for code, due_on in (("yearly", first), ("half-yearly", first + timedelta(days=91))):
                if due_on >= machine.in_use_from:
                    plan_inspection(machine, procedures[code], due_on=due_on, by=self.people["planner"], at=at)

    def _work(self, monday):
        """Inspect what falls due this week; some inspections are late, some of the last weeks stay open."""
        due = Inspection.objects.open().filter(due_on__lt=monday + timedelta(days=7), machine__status="in service")
        for inspection in due.exclude(note__endswith=AGAIN).with_place().order_by("due_on", "pk"):
            day = monday + timedelta(days=self.rng.randrange(5))
            if self.rng.random() < 0.18 or day < _free_from(inspection) or not self.first_day <= day <= self.last_day:
                continue
            if not Inspection.objects.open().filter(pk=inspection.pk).exists():
                continue  # a yearly of this week has settled it
            draw_fault(self.truths[inspection.machine_id], day, is_late=day > self.last_day - timedelta(days=20))
            habit = habit_of(inspection, self.truths[inspection.machine_id], day)
            self.inspect(inspection, day, habit=habit)
            self._countersign_some(inspection)
            self._follow_up(inspection, day)
            self._repeat(inspection, day)

    def _repeat(self, inspection, day):
        """Repeat an incomplete inspection the same afternoon; those of the last weeks wait for it."""
        is_withdrawn = inspection.machine.status != "in service"
        if not inspection.is_incomplete or is_withdrawn or day > self.last_day - LEFT_INCOMPLETE:
            return
        again = Inspection.objects.open().filter(machine=inspection.machine, procedure=inspection.procedure)
        for repeated in again.filter(note__endswith=AGAIN).with_place():
            calendar = self.rng.getstate()  # what is done twice leaves the weeks to come as they are
            self.inspect(repeated, day, hour=13)
            self.rng.setstate(calendar)

    def _countersign_some(self, inspection):
        if self.rng.random() < 0.75:
            other = next(person for person in self.technicians if person != inspection.signed_by)
            countersign_inspection(inspection, by=other, at=inspection.signed_at + timedelta(hours=3))

    def _follow_up(self, inspection, day):
        """Withdraw on an essential finding; most machines are repaired and back within two weeks."""
        machine = inspection.machine
        essential = Finding.objects.open().essential().filter(result__step__inspection=inspection)
        if not essential or machine.status != "in service":
            return
        at = inspection.signed_at + timedelta(minutes=20)
        withdraw_machine(machine, by=inspection.signed_by, at=at, reason=essential[0].title, evidence=str(inspection))
        back_on = day + timedelta(days=self.rng.randrange(2, 12))
        while back_on.weekday() > 4:
            back_on += timedelta(days=1)
        if back_on <= self.last_day - timedelta(days=20) and not self._is_past_repair(machine):
            self.retest(machine, back_on)

    def _is_past_repair(self, machine):
        """No spare parts are sold for the Three; for the Three S there were valve kits."""
        return machine.model.code == "norrfell-3" and self.rng.random() < 0.4

    def _faults(self, monday):
        if self.rng.random() < 0.3:
            machine = self.rng.choice(list(Machine.objects.with_place().in_service().order_by("pk")))
            at = datetime.combine(monday, time(15), tzinfo=UTC)
            report_fault(
                machine,
                title=self.rng.choice(FAULT_REPORTS),
                severity=Severity.OTHER,
                by=self.people["technician2"],
                at=at,
            )
        old = Finding.objects.open().filter(
            severity=Severity.OTHER, opened_at__lt=_morning(monday - timedelta(days=21))
        )
        old = old.exclude(origin__in=(Finding.Origin.NOT_TESTED, Finding.Origin.NOT_PROVED))
        for finding in old.select_related("machine"):
            self._close(finding, _morning(monday))

        self._close_proved_since(_morning(monday))

    def _close_proved_since(self, at):
        """Close what a result had left open and a later inspection proved."""
        for finding in Finding.objects.open().filter(origin=Finding.Origin.NOT_PROVED).select_related("machine"):
            if passed := passing_retest_of(finding):
                note = f"{passed} repeated it, and it passed."
                close_finding(finding, note=note, by=self.people["technician3"], at=at, work_hours="0.0")

    def _close(self, finding, at):
        hours = self.rng.choice(["0.5", "1.0", "1.5", "3.0"])
        if self.rng.random() < 0.8:
            close_finding(finding, note="Repaired and tested.", by=self.people["technician3"], at=at, work_hours=hours)

    def _retrofits(self, monday):
        """A bar on the vaporizer rail of the Three S, and 30 mm scavenging on the Ferry 20, one machine a month."""
        if monday.day > 7 or monday < self.first_day:
            return
        for model, feature, gone, component, fit in (
            ("norrfell-3s", "vaporizer-exclusion", None, "Exclusion bar", fit_exclusion_bar),
            (
                "aldane-20",
                "scavenging-30mm",
                "scavenging-breathing-size",
                "Scavenging interface, 30 mm",
                fit_wide_scavenging,
            ),
        ):
            todo = (
                Machine.objects.with_place().filter(model__code=model).with_feature(feature, State.NOT_FITTED, monday)
            )
            machine = todo.order_by("asset_number").first()
            if machine:
                self._record_retrofit(machine, feature, gone, component, monday)
                fit(machine, on=monday, by=self.technicians[0], at=_morning(monday))

    def _record_retrofit(self, machine, feature, gone, component, day):
        common = {"from_date": day, "evidence": Evidence.RETROFIT, "by": self.technicians[0], "at": _morning(day)}
        note = f"{component} fitted in the workshop"
        record_feature_state(machine, feature, State.FITTED, note=note, **common)
        if gone:
            record_feature_state(machine, gone, State.NOT_FITTED, note=note, **common)

    def _measure(self, inspection, day, technician, at, *, steps=None, habit="", among=None):
        """Enter the readings of steps, ten seconds for each. Return a moment after the last."""
        simulator = self._simulator(inspection.machine.site)
        truth = self.truths[inspection.machine_id]
        count = 0
        asked = inspection.steps.that_apply() if among is None else among.that_apply()
        for step in asked.with_machine()[:steps]:
            count += 1
            moment = at + timedelta(seconds=10 * count)
            if reason := why_not_tested(step, truth, habit):
                set_not_tested(step, reason=reason, by=technician, at=moment)
                continue
            for entry in simulator.entries(step, truth, day, habit):
                count += 1
                moment = at + timedelta(seconds=10 * count)
                reading = enter_reading(step, entry_at(step, **simulator.read(step, entry)), by=technician, at=moment)
                for question in reading.questions.open():
                    confirm_reading(question, by=technician, at=moment)  # simulated gauges are read without slips
        return at + timedelta(seconds=10 * (count + 1))

    def _simulator(self, site):
        if site.pk not in self.simulators:
            usable = Instrument.objects.usable().filter(site=site).exclude(code__in=("G-19", "A-19"))
            self.simulators[site.pk] = Simulator(list(usable.prefetch_related("scales")), site.code)
        return self.simulators[site.pk]

    def _technician_for(self, machine):
        by_site = {"orrin-harbour": 0, "castrel-hill": 1, "pell-bridge": 2}
        return self.technicians[by_site[machine.site.code]]


def why_not_tested(step, truth, habit):
    """Return why a step is not tested, empty for most: nothing is there to test, or the technician lacks a tool."""
    if step.content.get("feature") in truth.lacks:
        return "Nothing of the kind was found on this machine."
    return NO_TEST_LUNG if habit == "no test lung" and step.code == "disconnection-alarm" else ""


def _free_from(inspection):
    """Return the day on which the theatre releases the machine: when due, or weeks later for one in fourteen."""
    chance = random.Random(f"theatre {inspection.machine.asset_number} {inspection.due_on}")
    delay = chance.randrange(30, 75) if chance.random() < 0.07 else 0
    return inspection.due_on + timedelta(days=delay)


def _morning(day):
    return datetime.combine(day, time(8), tzinfo=UTC)
