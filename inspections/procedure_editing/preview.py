"""What a technician would see of a procedure on one machine: the steps that apply, and why the others do not."""

from dataclasses import dataclass

from django.db.models import Min

from fleet.characters import refusal_of
from fleet.models import Machine
from inspections.at_bench.blank_sheet import BlankStep, blank_steps_of
from inspections.at_bench.step_rows import machine_on_day, rows_of
from inspections.models import Inspection, InspectionStep, Procedure

MOST_EXAMPLES = 12
LONGEST_NUMBER = 80


@dataclass(frozen=True, slots=True)
class Preview:
    """`applies` are the steps as on a bench sheet, with last time's readings; `left_out` say why in `absence`."""

    machine: Machine
    applies: list[BlankStep]
    left_out: list[InspectionStep]


def preview_of(content, machine, *, on):
    """Return the Preview of a content on a machine as it is on the date `on`. Nothing is saved."""
    procedure = Procedure(title=content["title"])
    inspection = Inspection(machine=machine, procedure=procedure)
    there = machine_on_day(machine, on)
    rows = [row for step in content["step"] for row in rows_of(inspection, step, there)]
    for position, row in enumerate(rows, start=1):
        row.position = position
    applies = [row for row in rows if row.applies]
    return Preview(machine, blank_steps_of(inspection, applies), [row for row in rows if not row.applies])


def find_machine(person, number):
    """Return the machine with this asset number that the person may see, None if there is none."""
    if refusal_of(number) or len(number) > LONGEST_NUMBER:
        return None
    found = Machine.objects.visible_to(person).select_related("model", "area__site")
    return found.filter(asset_number__iexact=number.strip()).order_by("pk").first()


def example_machines(person):
    """Return one machine of each model, the first in the register: what a procedure is tried on."""
    first = Machine.objects.visible_to(person).order_by().values("model").annotate(first=Min("pk"))
    pks = [row["first"] for row in first.order_by("model")[:MOST_EXAMPLES]]
    return list(Machine.objects.filter(pk__in=pks).select_related("model").order_by("model__name", "pk"))
