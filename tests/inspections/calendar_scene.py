"""A department with calendars: a site, an area with a minimum, two technicians with hours, and planned inspections."""

from datetime import timedelta
from types import SimpleNamespace

from inspections.actions import confirm_competence, plan_inspection, set_working_hours
from inspections.models import Procedure
from tests.factories import (
    NOON,
    TODAY,
    make_area,
    make_instrument,
    make_machine,
    make_model,
    make_person,
    make_procedure,
    make_site,
)
from tests.inspections.scenes import SHORT

WEEK = dict(enumerate([240, 240, 240, 240, 240, 0, 0]))


def make_department(directory, *, machines=6, minimum=0, **site):
    """`directory` is a tmp_path; every machine has one planned inspection, due from the second week on."""
    procedure = make_procedure(SHORT, directory=directory)
    place = make_site(**site)
    area = make_area(place, minimum_machines=minimum)
    planner = make_person("planner")
    people = [make_person("technician", first_name=name) for name in ("Ana", "Ben")]
    for person in people:
        set_working_hours(person, WEEK, by=planner, at=NOON)
    make_instrument(site=place)
    model = make_model()
    made = [make_machine(area=area, model=model) for _ in range(machines)]
    inspections = [
        plan_inspection(machine, procedure, due_on=TODAY + timedelta(days=10 + n), by=planner, at=NOON)
        for n, machine in enumerate(made)
    ]
    return SimpleNamespace(
        site=place, area=area, planner=planner, people=people, model=model, machines=made, inspections=inspections,
        procedure=Procedure.objects.get(pk=procedure.pk),
    )  # fmt: skip


def make_competent(department, person, **fields):
    return confirm_competence(
        person, machine_model=department.model, evidence="Course of 2026", by=department.planner, at=NOON, **fields
    )
