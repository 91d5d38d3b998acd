"""Requests for background jobs: the records of a list as PDFs, and signed records recalculated."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST

from fleet.web.form_methods import FORM_METHODS
from fleet.web.query_values import choice_asked
from inspections.errors import Refused
from inspections.forms.work import WorkFilter, ticked
from inspections.jobs.papers import request_record_papers
from inspections.jobs.reevaluation import request_reevaluation
from inspections.models import Inspection


@permission_required("inspections.view_inspection", raise_exception=True)
@require_POST
def record_papers(request):
    """Ask for the PDFs of the ticked records, or, if none is ticked, of all that the filter of the list keeps."""
    visible = Inspection.objects.visible_to(request.user)
    inspections = WorkFilter(request.GET, visible, request=request).rows()
    if choice_asked(request, "view", ["signed", "countersign"]) == "countersign":
        inspections = inspections.awaiting_countersignature()
    try:
        chosen = ticked(inspections, request.POST.getlist("inspection"))
        return redirect(request_record_papers(chosen, by=request.user, at=timezone.now()))
    except Refused as refused:
        messages.error(request, str(refused))
        return redirect(f"{reverse('inspections:work')}?{request.GET.urlencode()}")


@permission_required("inspections.view_inspection", raise_exception=True)
@require_http_methods(FORM_METHODS)
def reevaluation(request):
    """Explain the recalculation of signed records, and request it."""
    if request.method == "POST":
        return redirect(request_reevaluation(by=request.user, at=timezone.now()))
    number = Inspection.objects.visible_to(request.user).signed().filter(record__isnull=False).count()
    return render(request, "inspections/reevaluation.html", {"number": number})
