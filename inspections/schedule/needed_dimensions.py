"""Which dimensions the essential steps of a procedure measure with an instrument of the workshop."""

from inspections.bench import get_test
from inspections.bench.examples import EXAMPLES
from inspections.bench.uncertainty_ratio import places_of, typical_sheet
from inspections.models import ProcedureVersion


def needed_dimensions(procedures, day):
    """Return the dimensions of each procedure by its key, by the version in force on a day. One query."""
    found = {procedure.pk: frozenset() for procedure in procedures}
    versions = ProcedureVersion.objects.begun(day).filter(procedure__in=found).order_by("procedure", "number")
    for procedure, content in versions.values_list("procedure", "content"):
        found[procedure] = frozenset(_of_steps(content.get("step", ())))
    return found


def _of_steps(steps):
    for step in steps:
        if step.get("essential") and step.get("test") in EXAMPLES:
            test = get_test(step["test"])
            sheet, _ = typical_sheet(test)
            for place in places_of(test, sheet):
                yield place.spec.dimension.entry.code
