"""The department of the other walks: the register of the demonstration with its circuits, prices and a year of work."""

import os
from datetime import timedelta

PEOPLE = ("planner", "technician", "manager", "auditor")
LOT, CONCERNED = "R-24", 12  # scavenging interfaces of this lot are fitted to so many machines


def fill(folder):
    """Machines with components and prices, inspections that were due in the last year, and a person of each group."""
    from django.core.management import call_command
    from django.utils import timezone

    from config.demo.machine_circuits import fit_components, fit_wide_scavenging
    from config.demo.prices import enter_prices
    from config.demo.scenario import REGISTER, create_scenario, read_scenario
    from fleet.acting.scope import history
    from fleet.models import Machine, Person
    from inspections.actions import load_procedures
    from inspections.at_bench.procedure_files import DIRECTORY
    from tests.factories import make_person

    now, today = timezone.now(), timezone.localdate()
    create_scenario(read_scenario(), today)
    with open(os.devnull, "w") as nothing:
        call_command("import_register", str(REGISTER), "--by", "planner", stdout=nothing)
    with history():
        machines = list(Machine.objects.with_place().order_by("asset_number"))
        for machine in machines:
            fit_components(machine)
        for machine in machines[:CONCERNED]:
            fit_wide_scavenging(machine, on=today - timedelta(days=100), by=None, at=now, lot=LOT)
        load_procedures(DIRECTORY, at=now)
        _plan_the_last_year(today, now)
        enter_prices(by=Person.objects.get(username="manager"), at=now)
        for group in PEOPLE:
            make_person(group, username=f"walk-{group}")


def _plan_the_last_year(today, now):
    from fleet.models import Machine, Person
    from inspections.actions import plan_inspection
    from inspections.models import Procedure

    yearly, planner = Procedure.objects.get(code="yearly"), Person.objects.get(username="planner")
    for number, machine in enumerate(Machine.objects.not_retired().order_by("asset_number")):
        due_on = today - timedelta(days=330) + timedelta(days=11 * number % 700)
        plan_inspection(machine, yearly, due_on=due_on, by=planner, at=now)
