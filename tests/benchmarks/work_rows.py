"""What is still to be done on the measured fleet: findings, duties, open inspections, judgements, limits."""

import itertools
from datetime import timedelta

from fleet.models import Duty, DutyChange, Machine
from inspections.actions import open_inspection
from inspections.models import CriterionJudgement, Finding, Inspection, LimitOverride, Outcome, Reading, Stage
from inspections.models.querysets.inspections import due_window
from tests.benchmarks.copying import BATCH, column_values
from tests.benchmarks.signed_rows import LONG_HISTORY

ON_BENCH = 24


class WorkRows:
    """Part of the Builder."""

    def make_findings(self):
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
            closing_note="" if is_open else "Repaired and tested.",
            work_hours=None if is_open else self.rng.choice(("0.5", "1.0", "2.5")),
        )

    def make_duties(self):
        """Some machines are withdrawn, some retired."""
        chosen = self.rng.sample(self.machines[1:], 400)
        for duty, machines in ((Duty.WITHDRAWN, chosen[:150]), (Duty.RETIRED, chosen[150:])):
            Machine.objects.filter(pk__in=[machine.pk for machine in machines]).update(duty=duty)
            DutyChange.objects.bulk_create(
                DutyChange(
                    machine=machine,
                    duty=duty,
                    changed_on=self.today - timedelta(days=30),
                    reason="Found unfit",
                    by=self.people["technician"],
                    recorded_at=self.now - timedelta(days=30),
                )
                for machine in machines
            )
        self.retired = {machine.pk for machine in chosen[150:]}

    def make_open(self):
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
            machine=machine,
            procedure=procedure,
            due_on=due_on,
            opens_on=opens_on,
            closes_on=closes_on,
            stage=Stage.BOOKED if is_booked else Stage.PLANNED,
            booked_on=self.today + timedelta(days=self.rng.randrange(40)) if is_booked else None,
            technician=self.rng.choice(self.technicians) if is_booked else None,
            planned_by=self.people["planner"],
            planned_at=self.now - timedelta(days=200),
        )

    def make_on_bench(self):
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
            Reading(
                **column_values(row)
                | {"step_id": by_place[place].pk, "entered_by_id": technician.pk, "entered_at": self.now}
            )
            for row in read
            if (place := (row.step.code, row.step.subject)) in by_place
        )

    def make_judgements_and_limits(self):
        CriterionJudgement.objects.bulk_create(
            CriterionJudgement(
                machine=machine,
                criterion=criterion,
                answer=self.rng.choice(("met", "not met")),
                reason="Looked at with the theatre staff",
                by=self.people["manager"],
                at=self.now,
            )
            for machine in self.machines[::5]
            for criterion in ("R8", "R10")
        )
        LimitOverride.objects.bulk_create(
            LimitOverride(
                machine_model=model,
                test_code="low-pressure-leak",
                outcome_key="leak",
                upper=150,
                unit="mL/min",
                reason="Figure of the maker",
                source="Service manual, leak test",
                from_date=self.today,
                by=self.people["planner"],
                at=self.now,
            )
            for model in self.models
        )
