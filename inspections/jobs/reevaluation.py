"""Compare every signed record with what would be computed today, and list the differences as CSV."""

import io

from django.conf import settings

from fleet.actions import request_job
from fleet.export.cells import CsvRows
from fleet.jobs import Result, job_kind
from inspections.models import Inspection
from inspections.records.recalculating import recalculated

REEVALUATION = "re-evaluation"
CHUNK = 50
HEADER = (
    "inspection", "asset_number", "site", "procedure", "signed_at", "step", "result", "differs_in",
    "as_signed_si", "today_si",
)  # fmt: skip


def request_reevaluation(*, by, at):
    """Ask for the comparison of all signed records that `by` may see."""
    return request_job(REEVALUATION, title="Signed records recalculated", params={}, by=by, at=at)


@job_kind(REEVALUATION, "Recalculating signed records", permission="inspections.view_inspection")
def reevaluate(run):
    """Write a line for each thing that would differ. Changes no record."""
    signed = Inspection.objects.visible_to(run.by).signed().filter(record__isnull=False)
    chosen = list(signed.order_by("pk").values_list("pk", flat=True))
    file = io.BytesIO()
    text = io.TextIOWrapper(file, encoding="utf-8-sig", newline="", write_through=True)
    rows = CsvRows(text)
    rows.write(HEADER)
    touched = decided = 0
    compared = recalculated(_loaded(chosen), len(chosen), processes=settings.EVALUATION_PROCESSES)
    for inspection, found in run.each(compared, "Recalculating records", total=len(chosen)):
        rows.write_all(_row(inspection, one) for one in found)
        touched += bool(found)
        decided += any(one.is_decision for one in found)
    text.detach()
    return Result(_words(len(chosen), touched, decided), file, f"computed-anew-{run.started_at:%Y-%m-%d}.csv")


def _loaded(chosen):
    inspections = Inspection.objects.select_related("record", "machine__area__site", "machine__model", "procedure")
    for first in range(0, len(chosen), CHUNK):
        yield from inspections.filter(pk__in=chosen[first : first + CHUNK]).order_by("pk")


def _row(inspection, one):
    machine = inspection.machine
    return [
        inspection.pk, machine.asset_number, machine.site.name, inspection.procedure.title,
        inspection.signed_at.isoformat(), one.step, one.result, one.what, one.signed, one.now,
    ]  # fmt: skip


def _words(total, touched, decided):
    recalculated = f"{total} record{'' if total == 1 else 's'} recalculated"
    if not touched:
        return f"{recalculated}; all agree with the signed values."
    return (
        f"{recalculated}; {touched} would differ, {decided} of them in a decision. "
        "No record was changed: the file lists the differences."
    )
