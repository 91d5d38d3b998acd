"""The release of a withdrawn machine: what failed, what was retested, and what still stands against it."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import PermissionDenied
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.models import Machine
from inspections.actions import candidate_retests, reasons_against_release, release_machine
from inspections.errors import Refused
from inspections.models import Finding, Inspection

CANDIDATES = 8


@permission_required("inspections.view_inspection", raise_exception=True)
@require_http_methods(["GET", "POST"])
def release(request, pk):
    """Anybody who reads inspections sees what stands against a release; who may release machines does it here."""
    machine = get_object_or_404(Machine.objects.visible_to(request.user).with_place(), pk=pk)
    if request.method == "POST":
        return _release(request, machine)
    candidates = candidate_retests(machine).select_related("procedure", "signed_by")[:CANDIDATES]
    context = {
        "machine": machine,
        "withdrawal": machine.duty_changes.select_related("by").first(),
        "findings": Finding.objects.open().filter(machine=machine).with_place(),
        "candidates": [(retest, reasons_against_release(machine, retest)) for retest in candidates],
        "planned": Inspection.objects.retesting().filter(machine=machine).select_related("procedure", "technician"),
    }
    return render(request, "inspections/release.html", context)


def _release(request, machine):
    if not request.user.has_perm("fleet.release_machine"):
        raise PermissionDenied
    retest = get_object_or_404(Inspection.objects.filter(machine=machine), pk=_number(request.POST.get("retest")))
    try:
        release_machine(machine, retest=retest, by=request.user, at=timezone.now())
    except Refused as error:
        for reason in getattr(error, "reasons", [str(error)]):
            messages.error(request, reason)
        return redirect("inspections:release", machine.pk)
    messages.success(request, f"Machine {machine} is back in service, on the evidence of {retest}.")
    return redirect(machine)


def _number(text):
    return int(text) if text and text.isdecimal() else 0
