"""What belongs to the label of a machine, behind the login: the checks recorded by it, its code, the DO NOT USE tag."""

from django.conf import settings
from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_http_methods, require_safe

from fleet.machine_page.head import head_today
from fleet.models import MachineStatus
from fleet.views.machines import visible_machine
from fleet.web.form_methods import FORM_METHODS, posted
from fleet.web.query_values import choice_asked, page_asked
from inspections.actions import replace_label
from inspections.forms.fault_reports import ReplaceLabelForm
from inspections.label_page.machine_standing import first_use_awaited_since, last_signed_at
from inspections.models import FaultPhotograph, MachineLabel, UserCheck
from inspections.reports.sources import label_url, tag_of
from inspections.reports.tag import SIZES, write_tag
from inspections.views.pdfs import pdf_response

ON_PAGE = 25


@permission_required("inspections.view_inspection", raise_exception=True)
@require_safe
def user_checks(request, pk):
    """The checks of one machine, newest first, and its label."""
    machine = visible_machine(request, pk)
    context = {
        **head_today(machine, "User checks"),
        "page": page_asked(request, UserCheck.objects.filter(machine=machine), ON_PAGE),
        "awaited_since": first_use_awaited_since(machine, last_signed_at(machine)),
        "labels": MachineLabel.objects.filter(machine=machine).select_related("issued_by", "replaced_by")[:ON_PAGE],
    }
    return render(request, "inspections/user_checks.html", context)


@permission_required("inspections.replace_machinelabel", raise_exception=True)
@require_http_methods(FORM_METHODS)
def label_replace(request, pk):
    machine = visible_machine(request, pk)
    form = ReplaceLabelForm(posted(request))
    if request.method == "POST" and form.is_valid():
        replace_label(machine, reason=form.cleaned_data["reason"], by=request.user, at=timezone.now())
        messages.success(request, f"The label of machine {machine} has a new code. Print it, and stick it on.")
        return redirect("inspections:user_checks", pk)
    return render(request, "inspections/label_replace.html", {"form": form, "machine": machine})


@permission_required("inspections.view_inspection", raise_exception=True)
@require_GET
def tag_pdf(request, pk):
    """Send the DO NOT USE tag of a withdrawn machine; `size` is that of A6 or of a label printer."""
    machine = visible_machine(request, pk)
    size = choice_asked(request, "size", SIZES, "a6")
    if machine.status != MachineStatus.WITHDRAWN:
        return render(request, "inspections/no_tag.html", {"machine": machine}, status=409)
    url = label_url(machine, base_url=settings.BASE_URL, by=request.user, at=timezone.now())
    return pdf_response(write_tag(tag_of(machine, url=url), size), f"do-not-use-{machine.asset_number}")


@permission_required("inspections.view_finding", raise_exception=True)
@require_GET
def fault_photograph(request, pk):
    """Send the photograph of a fault report, if it is what arrived."""
    rows = FaultPhotograph.objects.visible_to(request.user)
    found = get_object_or_404(rows, pk=pk)
    if not found.is_intact:
        raise Http404("This photograph is not what arrived.")
    return HttpResponse(bytes(found.content), content_type="image/jpeg")
