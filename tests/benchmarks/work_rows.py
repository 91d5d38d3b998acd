"""What is still to be done on the measured fleet: findings, changes of status, open inspections, judgements, limits."""

import itertools
from datetime import timedelta

from fleet.models import MachineStatus, StatusChange, Machine
from inspections.actions import open_inspection
from inspections.models import CriterionJudgement, Finding, Inspection, LimitOverride, Result, Reading, Stage
from inspections.models.querysets.inspections import due_window
from tests.benchmarks.copying import BATCH, column_values
from tests.benchmarks.signed_rows import LONG_HISTORY

IN_PROGRESS = 24


class WorkRows:
    """Part of the Builder."""

    def make_findings(self):
        """A finding for each failed result, one in ten open, and fault reports."""
        failed = Result.objects.failed().filter(findings=None).select_related("step__inspection").order_by("pk")
        rows = [self._finding(result=result) for result in failed]
        rows += [self._finding(machine=machine) for machine in self.rng.sample(self.machines, 1500)]
        rows += [self._finding(machine=self.machines[0]) for _ in range(LONG_HISTORY)]
        Finding.objects.bulk_create(rows, batch_size=BATCH)

    def _finding(self, *, result=None, machine=None):
        at = result.step.inspection.signed_at if result else self.now - timedelta(days=self.rng.randrange(700))
        is_open = self.rng.random() < 0.1
        return Finding(
            machine_id=result.step.inspection.machine_id if result else machine.pk,
            origin=Finding.Origin.RESULT if result else Finding.Origin.FAULT,
            result=result,
            severity="essential" if result and result.step.is_essential else "other",
            title=f"{result.step}: {result.label.lower()}, {result.decision}" if result else "Castor drags",
            opened_by=self.people["technician"],
            opened_at=at,
            closed_by=None if is_open else self.people["technician2"],
            closed_at=None if is_open else at + timedelta(days=self.rng.randrange(1, 20)),
            closing_note="" if is_open else "Put right and tried.",
            work_hours=None if is_open else self.rng.choice(("0.5", "1.0", "2.5")),
        )

    def make_statuses(self):
        """Some machines are withdrawn, some retired."""
        chosen = self.rng.sample(self.machines[1:], 400)
        for status, machines in ((MachineStatus.WITHDRAWN, chosen[:150]), (MachineStatus.RETIRED, chosen[150:])):
            Machine.objects.filter(pk__in=[machine.pk for machine in machines]).update(status=status)
            StatusChange.objects.bulk_create(
                StatusChange(
                    machine=machine,
                    status=status,
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

    def make_in_progress(self):
        """Put booked yearly inspections on the bench by the real action, most of their readings entered."""
        booked = Inspection.objects.booked().filter(procedure=self.yearly).exclude(machine__status=MachineStatus.RETIRED)
        technicians = itertools.cycle([self.people["technician"], *self.technicians])
        for inspection in booked.with_place().order_by("pk")[:IN_PROGRESS]:
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
                result_key="leak",
                upper=150,
                unit="mL/min",
                reason="Figure of the manufacturer",
                source="Service manual, leak test",
                from_date=self.today,
                by=self.people["planner"],
                at=self.now,
            )
            for model in self.models
        )
