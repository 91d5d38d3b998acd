"""Decide again every signed result that rests on an instrument found in error, and list those that would change."""

import io

from fleet.actions import request_job
from fleet.export.cells import CsvRows
from fleet.jobs import Result, job_kind
from fleet.models import Calibration
from fleet.web.at_site import at_site
from inspections.deciding.found_error import found_error, inspections_on, loaded, suspected

FOUND_ERROR = "found-error"
HEADER = (
    "inspection", "asset_number", "site", "procedure", "signed_at", "step", "result", "on_record", "with_found_error",
    "value_on_record", "value_with_found_error",
)  # fmt: skip


def request_found_error(calibration, *, by, at):
    """Ask for the results of all signed inspections that `by` may see and that rest on the calibrated instrument."""
    title = f"Results that rest on {calibration.instrument.code} before {calibration.certificate}"
    return request_job(FOUND_ERROR, title=title, params={"calibration": calibration.pk}, by=by, at=at)


@job_kind(FOUND_ERROR, "Results of an instrument found in error", permission="inspections.view_inspection")
def decide_again(run):
    """Write a line for each result that would be decided otherwise. Changes no record."""
    rows_seen = Calibration.objects.visible_to(run.by).select_related("instrument__site")
    error = found_error(rows_seen.get(pk=run.params["calibration"]))
    chosen = list(inspections_on(error, run.by).values_list("pk", flat=True))
    file = io.BytesIO()
    text = io.TextIOWrapper(file, encoding="utf-8-sig", newline="", write_through=True)
    rows = CsvRows(text)
    rows.write(HEADER)
    touched = changed = 0
    for inspection in run.each(loaded(chosen), "Deciding records again", total=len(chosen)):
        with at_site(inspection.machine.site):
            found = suspected(inspection, error)
        rows.write_all(_row(one) for one in found)
        touched, changed = touched + bool(found), changed + len(found)
    text.detach()
    return Result(_words(len(chosen), touched, changed), file, f"found-error-{error.calibration.pk}.csv")


def _row(one):
    inspection = one.inspection
    machine = inspection.machine
    return [
        inspection.pk, machine.asset_number, machine.site.name, inspection.procedure.title,
        inspection.signed_at.isoformat(), str(one.step), one.label, one.was, one.would_be, one.value_was,
        one.value_would_be,
    ]  # fmt: skip


def _words(total, touched, changed):
    decided = f"{total} record{'' if total == 1 else 's'} decided again with the error that was found"
    if not changed:
        return f"{decided}; no decision would change."
    return f"{decided}; {changed} result{'' if changed == 1 else 's'} of {touched} would change. No record was changed."
