"""Papers to take away: the record of an inspection, the label of a machine, the retirement review."""

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET

from fleet.actions import request_job
from fleet.export.download import file_response
from fleet.models import Machine
from fleet.views.machines import visible_machine
from fleet.web.query_values import number_asked
from inspections.jobs.review import MOST_AT_ONCE, REVIEW_PAPER, review_paper
from inspections.models import Inspection
from inspections.reports.bench_sheet import write_bench_sheet
from inspections.reports.label import write_label
from inspections.reports.record import NotSigned
from inspections.reports.record_again import record_paper
from inspections.reports.review import TOP
from inspections.reports.sources import for_record, label_of, label_url
from inspections.views.at_site import visible_inspection

MOST_TOLD = 40


@require_GET
@permission_required("inspections.view_inspection", raise_exception=True)
def record_pdf(request, pk):
    """Send the record of a signed inspection; before the signature, say that there is none yet."""
    inspection = get_object_or_404(for_record(Inspection.objects.visible_to(request.user)), pk=pk)
    try:
        content = record_paper(inspection, list(inspection.amendments.select_related("by", "step")))
    except NotSigned as error:
        context = {"inspection": inspection, "reason": str(error)}
        return render(request, "inspections/no_record.html", context, status=409)
    return pdf_response(content, f"record-{inspection.machine.asset_number}-{inspection.pk}")


@require_GET
@permission_required("inspections.view_inspection", raise_exception=True)
def bench_sheet(request, pk):
    """Send the blank bench sheet of an inspection that is not signed yet."""
    inspection = visible_inspection(request, pk)
    if not inspection.is_open:
        messages.warning(request, f"{inspection} is {inspection.stage_word}: there is nothing to write down any more.")
        return redirect(inspection)
    today = inspection.machine.site.date_of(timezone.now())
    content = write_bench_sheet(inspection, on=today)
    return pdf_response(content, f"bench-sheet-{inspection.machine.asset_number}-{pk}")


@require_GET
@permission_required("inspections.view_inspection", raise_exception=True)
def label_pdf(request, pk):
    """Send the label of a machine."""
    machine = visible_machine(request, pk)
    url = label_url(machine, base_url=settings.BASE_URL, by=request.user, at=timezone.now())
    content = write_label(label_of(machine, url=url))
    return pdf_response(content, f"label-{machine.asset_number}")


@require_GET
@permission_required(("inspections.view_review", "fleet.export_register"), raise_exception=True)
def review_pdf(request):
    """Send the retirement review of the machines that the filter keeps; `top` says how many are described in detail."""
    today, top = timezone.localdate(), number_asked(request, "top", TOP, high=MOST_TOLD)
    if Machine.objects.visible_to(request.user).not_retired().count() > MOST_AT_ONCE:
        params = {"query": request.GET.urlencode(), "top": top}
        title = "Retirement review as PDF"
        return redirect(request_job(REVIEW_PAPER, title=title, params=params, by=request.user, at=timezone.now()))
    content = review_paper(request.user, request.GET, today=today, top=top)
    return pdf_response(content, f"retirement-review-{today}")


def pdf_response(content, name):
    """Answer with a PDF that opens in the browser under a name of letters, digits and dashes."""
    safe = "".join(letter if letter.isascii() and letter.isalnum() else "-" for letter in name)
    return file_response(f"{safe}.pdf", content, is_shown=True)
