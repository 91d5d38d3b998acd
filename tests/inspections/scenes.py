"""A machine on the bench with a short procedure of its own, so that a test need not pass twenty steps."""

from dataclasses import dataclass
from datetime import timedelta

from django.db import DEFAULT_DB_ALIAS, transaction
from django.urls import reverse

from fleet.acting.scope import open_scope
from inspections.actions import enter_reading, open_inspection, plan_inspection, set_not_tested, sign_inspection
from inspections.actions.holding import hold_in_progress
from inspections.at_bench.reading_entry import entry_at
from inspections.models import Inspection, Reading
from tests.factories import (
    NOON,
    TODAY,
    make_area,
    make_instrument,
    make_machine,
    make_person,
    make_procedure,
    make_site,
)

SHORT = """
code = "yearly"
title = "Short inspection"
interval_months = 12

[[step]]
code = "supply-failure"
title = "Oxygen supply failure"
test = "supply-failure"
essential = true
gas = "nitrous-oxide"
instruction = "Lower the oxygen pressure in steps."

[[step]]
code = "alarm"
title = "Oxygen supply alarm"
test = "observation"
item = "The alarm sounds."
source = "EN 740:1998 (from memory)"

[[step]]
code = "flush"
title = "Oxygen flush"
test = "oxygen-flush"
"""
# Trips between 26 and 24 psi, about the trade value of 25 psi (common practice, no source); residual flow nil.
PASSING = [("45", "4.0"), ("35", "4.0"), ("26", "3.6"), ("24", "0.4"), ("20", "0.0")]
# Comes back between 24 and 28 psi, whole at the full pressure.
RISING = [("20", "0.0"), ("24", "0.2"), ("28", "3.8"), ("50", "4.0")]
# Trips between 40 and 38 psi: far above the 30 psi of the rule.
FAILING = [("45", "4.0"), ("40", "3.6"), ("38", "0.4"), ("30", "0.0"), ("20", "0.0")]


def enter(step, field, *, by, at, token=None, **sent):
    """Enter a reading by the keys of its place."""
    return enter_reading(step, entry_at(step, field, **sent), by=by, at=at, token=token)


@dataclass
class Scene:
    technician: object
    other: object
    machine: object
    gauge: object
    flowmeter: object
    procedure: object
    inspection: Inspection

    def step(self, code="supply-failure"):
        return self.inspection.steps.get(code=code)

    def enter(self, field, as_read, *, code="supply-failure", at=NOON, **kwargs):
        return enter(self.step(code), field, as_read=as_read, **{"by": self.technician, "at": at, **kwargs})

    def sweep(self, rows=PASSING, *, at=NOON, unit="psi"):
        """Enter the supply failure test: start, set flow and the falling sweep."""
        start = [("full_pressure", self.pressure("50", unit)), ("set_flow", self.flow("4.0"))]
        self.enter_all([*start, *self.cells("falling", rows, unit)], at=at)

    def rise(self, rows=RISING, *, at=NOON):
        """Enter the rising sweep: the other gas comes back with the oxygen."""
        self.enter_all(self.cells("rising", rows, "psi"), at=at)

    def pressure(self, as_read, unit="psi"):
        return {"as_read": as_read, "unit": unit, "instrument": self.gauge}

    def flow(self, as_read):
        return {"as_read": as_read, "unit": "L/min", "instrument": self.flowmeter}

    def cells(self, field, rows, unit):
        for row, (pressure, flow) in enumerate(rows):
            yield field, {"row": row, "column": "pressure", **self.pressure(pressure, unit)}
            yield field, {"row": row, "column": "flow", **self.flow(flow)}

    def enter_all(self, sent, *, at):
        """Enter several readings of the supply failure test, at once where the places are empty and nothing is asked.

        A test of what entering one does enters it by `enter`.
        """
        step = self.step()
        entries = [entry_at(step, field, **said) for field, said in sent]
        fields = {entry.place["field"] for entry in entries}
        if open_scope(DEFAULT_DB_ALIAS) is None or step.readings.filter(field__in=fields).exists():
            for entry in entries:
                enter_reading(step, entry, by=self.technician, at=at)
            return
        with transaction.atomic():
            hold_in_progress(step)
            Reading.objects.bulk_create(
                Reading(step=step, **entry.place, **entry.values, entered_by=self.technician, entered_at=at)
                for entry in entries
            )

    def cell(self, row, column, as_read, **kwargs):
        return self.enter("falling", as_read, row=row, column=column, **kwargs)

    def complete(self, rows=PASSING, *, alarm="yes", at=NOON):
        """Everything that a signature needs."""
        self.sweep(rows, at=at)
        self.rise(at=at)
        self.enter("seen", alarm, code="alarm", at=at)
        self.leave_untested("flush", "No flowmeter of that range today.", at=at)

    def leave_untested(self, code, reason, *, at=NOON):
        """Mark a step as not tested; an empty reason undoes the mark."""
        set_not_tested(self.step(code), reason=reason, by=self.technician, at=at)

    def sign(self, *, at=NOON + timedelta(hours=1)):
        sign_inspection(self.inspection, by=self.technician, at=at)
        return self.inspection

    def again(self, *, at):
        """A further inspection of the same machine on the bench; it takes the place of this one in the scene."""
        Inspection.objects.open().filter(machine=self.machine).delete()
        self.inspection = plan_inspection(self.machine, self.procedure, due_on=TODAY, by=None, at=at)
        open_inspection(self.inspection, by=self.technician, at=at)
        return self.inspection

    def url(self, name, code="supply-failure"):
        return reverse(f"inspections:{name}", args=[self.step(code).pk])

    @property
    def step_url(self):
        return self.step().get_absolute_url()


def make_scene(directory, *, text=SHORT, at=NOON, **machine):
    """A scene with an inspection on the bench, opened by its technician at `at`."""
    site = make_site(altitude_m=620, time_zone="Europe/Lisbon")
    technician = make_person("technician", first_name="Ana", last_name="Ferro")
    scene = Scene(
        technician=technician,
        other=make_person("technician", first_name="Rui", last_name="Serra"),
        machine=make_machine(area=make_area(site), at=at, **machine),
        gauge=make_instrument(site=site),
        flowmeter=make_instrument(site=site),
        procedure=make_procedure(text, directory=directory, at=at),
        inspection=None,
    )
    scene.again(at=at)
    return scene
