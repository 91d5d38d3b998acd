"""Which steps an inspection has: those of its procedure, and those that it repeats."""

from dataclasses import dataclass

from inspections.at_bench.repeated_steps import repeated_rows
from inspections.at_bench.step_rows import machine_on_day, rows_of
from inspections.errors import ProcedureError
from inspections.models import InspectionStep, ProcedureVersion


@dataclass(frozen=True, slots=True)
class Steps:
    version: ProcedureVersion
    rows: list[InspectionStep]


def build_steps(inspection, *, on):
    """Lay out the steps of the current version for the inspection's machine on the date `on`; not saved yet."""
    version = inspection.procedure.current_version()
    if version is None:
        raise ProcedureError(f"No version of “{inspection.procedure}” is loaded. Run: manage.py load_procedures")
    machine = machine_on_day(inspection.machine, on)
    rows = []
    for content in version.content["step"]:
        rows.extend(rows_of(inspection, content, machine))
    rows.extend(repeated_rows(inspection, rows, machine, on=on))
    for position, row in enumerate(rows, start=1):
        row.position = position
    return Steps(version, rows)
