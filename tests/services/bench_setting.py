"""The records of the kill run and the load run: machines, technicians, instruments, and machines that fall due."""

from datetime import timedelta

from django.utils import timezone

from fleet.acting.scope import acting
from fleet.actions import register_machines
from fleet.actions.register import Entry
from fleet.models import Person
from inspections.actions import plan_due_inspections
from tests.factories import PASSWORD, make_area, make_instrument, make_machine, make_model, make_person, make_procedure
from tests.inspections.scenes import SHORT

AT_ONCE = 10_000


class BenchSetting:
    """Fills an empty, migrated database; Django must be set up for it."""

    def __init__(self, directory, *, technicians):
        with acting("setting of the bench"):
            self._fill(directory, technicians)

    def _fill(self, directory, technicians):
        now = timezone.now()
        self.area, self.model = make_area(), make_model(gases=["oxygen", "nitrous-oxide", "air"])
        self.procedure = make_procedure(SHORT, directory=directory, at=now)
        due_on = now.date() + timedelta(days=300)
        calibrated = {"calibrated_on": now.date() - timedelta(days=30), "due_on": due_on}
        gauge, flowmeter = (make_instrument(site=self.area.site, **calibrated) for _ in range(2))
        self.shared = {
            "procedure": self.procedure.pk,
            "due_on": str(now.date()),
            "gauge": str(gauge.pk),
            "flowmeter": str(flowmeter.pk),
            "password": PASSWORD,
        }
        self.technicians = [self._technician() for _ in range(technicians)]

    def _technician(self):
        person = make_person("technician", "planner")
        machine = make_machine(area=self.area, model=self.model, at=timezone.now())
        return self.shared | {"username": person.username, "pk": person.pk, "machine": machine.pk}

    def register(self, count):
        """Register so many further machines and plan their first inspections, so that the run plans others only."""
        by, at = Person.objects.get(pk=self.technicians[0]["pk"]), timezone.now()
        for first in range(0, count, AT_ONCE):
            entries = [Entry(self._further(number)) for number in range(first, min(first + AT_ONCE, count))]
            register_machines(entries, by=by, at=at)
        if count:
            plan_due_inspections(today=timezone.localdate(), at=at)

    def _further(self, number):
        """The fields of a machine that came into use today."""
        return {
            "asset_number": f"F-{number:06}", "serial": f"S{number:08}", "model": self.model, "area": self.area,
            "built_year": 2020, "in_use_from": timezone.now().date(),
        }  # fmt: skip

    def add_due(self, count):
        """Register machines whose inspection is long overdue; return their keys."""
        return [make_machine(area=self.area, model=self.model, at=timezone.now()).pk for _ in range(count)]
