"""Two years of signed inspections, copied from the patterns until there are RESULTS results."""

from datetime import timedelta

from inspections.models import Completion, Inspection, InspectionStep, Reading, Result, SignedRecord
from inspections.models.querysets.inspections import due_window
from tests.benchmarks.copying import BATCH, Numbers, column_values, copy_rows, make_table

RESULTS = 200_000
LONG_HISTORY = 60  # signed inspections of the machine that has the most


class SignedRows:
    """Part of the Builder."""

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

    def make_signed(self):
        numbers = {model: Numbers(model) for model in (Inspection, InspectionStep, Result, Reading)}
        rows, made, incomplete, results = [], [], set(), Result.objects.count()
        for machine, procedure, days_ago in self._work():
            if results >= RESULTS:
                break
            pattern = self._choose(machine).inspections[procedure.code]
            results += pattern.results
            made.append(self._signed_inspection(machine, pattern, days_ago, numbers[Inspection].take(1)))
            if self._is_incomplete(pattern.inspection):
                incomplete.add(made[-1].pk)
            rows.append(self._shifts(pattern, made[-1], numbers))
        Inspection.objects.bulk_create(made, batch_size=BATCH)
        Completion.objects.bulk_create(
            (
                Completion(inspection=one, is_complete=one.pk not in incomplete, signed_on=one.signed_at.date())
                for one in made
            ),
            batch_size=BATCH,
        )
        columns = ("pattern", "inspection", "machine", "part", "step", "outcome", "reading", "jitter", "at")
        make_table("copies", columns, rows)
        self._copy_contents()

    def _is_incomplete(self, inspection):
        if not hasattr(inspection, "found_incomplete"):
            inspection.found_incomplete = inspection.is_incomplete  # asked once of each pattern
        return inspection.found_incomplete

    def _choose(self, machine):
        sound, leaking, creeping = self.patterns[machine.model.code]
        return self.rng.choices((sound, leaking, creeping), (94, 3, 3))[0]

    def _signed_inspection(self, machine, pattern, days_ago, pk):
        at = self.now - timedelta(days=days_ago)
        due_on = at.date() + timedelta(days=self.rng.randrange(-20, 30))
        opens_on, closes_on = due_window(due_on, pattern.inspection.procedure.window_days)
        return Inspection(
            **column_values(pattern.inspection)
            | {
                "id": pk,
                "machine_id": machine.pk,
                "due_on": due_on,
                "opens_on": opens_on,
                "closes_on": closes_on,
                "booked_on": at.date(),
                "planned_at": at - timedelta(days=90),
                "opened_at": at - timedelta(hours=2),
                "signed_at": at,
                "technician_id": self.rng.choice(self.technicians).pk,
            }
        )

    def _shifts(self, pattern, inspection, numbers):
        """Return the offsets from the keys of the pattern's rows to those of the copy; blocks are contiguous."""
        firsts = self._firsts(pattern.inspection)
        sizes = (pattern.inspection.steps_made, pattern.results, pattern.readings)
        taken = [
            numbers[model].take(size) - first
            for model, size, first in zip((InspectionStep, Result, Reading), sizes, firsts, strict=True)
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
            for model in (Result, Reading):
                firsts.append(model.objects.filter(step__in=steps).order_by("pk").values_list("pk", flat=True)[0])
            inspection.firsts = firsts
        return inspection.firsts

    def _part_offset(self, machine):
        """Return the offset of a pattern's components from those of the first pattern of its model, which is copied."""
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
            InspectionStep,
            "copies c",
            join="old.inspection_id = c.pattern",
            id="old.id + c.step",
            inspection_id="c.inspection",
            component_id="old.component_id + c.part",
        )
        copy_rows(
            Result,
            steps,
            join=of_step,
            id="old.id + c.outcome",
            step_id="old.step_id + c.step",
            value="old.value * (1 + c.jitter)",
        )
        copy_rows(
            Reading, steps, join=of_step, id="old.id + c.reading", step_id="old.step_id + c.step", entered_at="c.at"
        )
        copy_rows(
            SignedRecord,
            "copies c",
            join="old.inspection_id = c.pattern",
            id="c.inspection",
            inspection_id="c.inspection",
            signed_at="c.at",
        )
