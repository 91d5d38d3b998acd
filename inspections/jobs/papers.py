"""The records of many inspections as PDFs in one archive."""

import io
import zipfile

from django.db.models import Prefetch

from fleet.actions import request_job
from fleet.jobs import Result, job_kind
from inspections.errors import Refused
from inspections.models import Amendment, Inspection
from inspections.reports.record import write_record
from inspections.reports.sources import for_record

RECORD_PAPERS = "record-papers"
MOST_RECORDS = 500
CHUNK = 20


def request_record_papers(inspections, *, by, at):
    """Ask for the PDFs of a queryset of inspections. Raise Refused if none is signed, or more than MOST_RECORDS are."""
    signed = inspections.signed().filter(record__isnull=False)
    chosen = sorted(signed.order_by().values_list("pk", flat=True)[: MOST_RECORDS + 1])
    if not chosen:
        raise Refused("There is no signed record among these inspections, so there is nothing to print.")
    if len(chosen) > MOST_RECORDS:
        raise Refused(f"{signed.count()} records are too many at once. Narrow the list to {MOST_RECORDS} or fewer.")
    title = f"{len(chosen)} record{'' if len(chosen) == 1 else 's'} as PDF"
    return request_job(RECORD_PAPERS, title=title, params={"inspections": chosen}, by=by, at=at)


@job_kind(RECORD_PAPERS, "Records as PDF", permission="inspections.view_inspection")
def write_record_papers(run):
    """Write each record that the person may still see into the archive, the newest amendments included."""
    chosen = run.params["inspections"]
    archive = io.BytesIO()
    written = 0
    with zipfile.ZipFile(archive, "w", zipfile.ZIP_STORED) as papers:
        for inspection in run.each(_records(run.by, chosen), "Writing records", total=len(chosen)):
            content = write_record(inspection, inspection.in_order_of_time)
            papers.writestr(f"record-{_safe(inspection.machine.asset_number)}-{inspection.pk}.pdf", content)
            written += 1
    words = f"{written} record{'' if written == 1 else 's'} written."
    if written < len(chosen):
        words += f" {len(chosen) - written} are no longer visible to you and were left out."
    return Result(words, file=archive, name=f"records-{run.started_at:%Y-%m-%d}.zip")


def _records(person, chosen):
    amendments = Amendment.objects.select_related("by", "step").order_by("at", "pk")
    seen = for_record(Inspection.objects.visible_to(person).signed()).prefetch_related(
        Prefetch("amendments", amendments, to_attr="in_order_of_time")
    )
    for first in range(0, len(chosen), CHUNK):
        yield from seen.filter(pk__in=chosen[first : first + CHUNK]).order_by("pk")


def _safe(name):
    return "".join(letter if letter.isascii() and letter.isalnum() else "-" for letter in name)
