"""Papers of a safety notice, and the notice of an instrument found in error."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from fleet.days import long_date
from fleet.models import Calibration
from inspections.deciding.found_error import MOST_ON_A_PAGE, found_error, inspections_on
from inspections.jobs.notices import notice_of_found_error, request_found_error_notice
from inspections.models import SafetyNotice
from inspections.reports.notice import MOST, write_proof, write_reply
from inspections.views.pdfs import pdf_response

VIEW, ADD = "inspections.view_safetynotice", "inspections.add_safetynotice"


@permission_required(VIEW, raise_exception=True)
@require_safe
def notice_proof(request, pk):
    """Criteria, how many were looked at, and every item with what became of it, with a digest."""
    return _paper(request, pk, write_proof, "proof")


@permission_required(VIEW, raise_exception=True)
@require_safe
def notice_reply(request, pk):
    """What is sent to whoever published the notice."""
    return _paper(request, pk, write_reply, "reply")


@permission_required([ADD, "inspections.view_inspection"], raise_exception=True)
@require_POST
def notice_of_calibration(request, pk):
    """Open a notice of what rests on an instrument found in error; many inspections are decided in the background."""
    rows = Calibration.objects.visible_to(request.user).select_related("instrument__site")
    calibration = get_object_or_404(rows, pk=pk)
    now = timezone.now()
    if inspections_on(found_error(calibration), request.user).count() > MOST_ON_A_PAGE:
        return redirect(request_found_error_notice(calibration, by=request.user, at=now))
    notice = notice_of_found_error(calibration, request.user, at=now)
    messages.success(request, "Every signed inspection that rests on the instrument was decided again.")
    return redirect(notice)


def _paper(request, pk, write, name):
    notice = get_object_or_404(SafetyNotice.objects.visible_to(request.user), pk=pk)
    items = notice.items.visible_to(request.user).with_place().order_by("pk")[:MOST]
    content = write(notice, list(items), made=f"Made for {request.user}, {long_date(timezone.localdate())}")
    return pdf_response(content, f"notice-{notice.pk}-{name}")
