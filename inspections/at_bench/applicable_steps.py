"""Which steps an inspection has: those of its procedure, and those that it repeats."""

from dataclasses import dataclass

from fleet.place_format import day_text
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
    version = inspection.procedure.current_version(on)
    if version is None:
        raise ProcedureError(_why_none(inspection.procedure))
    machine = machine_on_day(inspection.machine, on)
    rows = []
    for content in version.content["step"]:
        rows.extend(rows_of(inspection, content, machine))
    rows.extend(repeated_rows(inspection, rows, machine, on=on))
    for position, row in enumerate(rows, start=1):
        row.position = position
    return Steps(version, rows)


def _why_none(procedure):
    first = procedure.versions.order_by("from_date").first()
    if first is None:
        return f"No version of “{procedure}” is loaded. Run: manage.py load_procedures"
    return f"“{procedure}” begins on {day_text(first.from_date)}. Start the inspection on that day or later."
