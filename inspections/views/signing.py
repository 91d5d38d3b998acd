"""Sign, countersign and amend. Each asks for the person behind the keyboard once more, or for a reason."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.http import posted
from inspections.actions import amend_inspection, countersign_inspection, reasons_against_signing, sign_inspection
from inspections.errors import NotReadyToSign, Refused, StageRefused
from inspections.forms.signing import AmendForm, SignatureForm
from inspections.models import Inspection, Outcome, Stage
from inspections.progress import Progress
from inspections.views.at_site import render_at_site

STATEMENT = [
    "A signature cannot be taken back: readings, results, limits, instruments and procedure version are frozen.",
    "The manufacturer's instructions, local codes and licensed practice come first; limits here are starting points.",
    "Bobbin computes and records. It never clears a machine: whoever signs says what was measured, and answers for it.",
]


@permission_required("inspections.sign_inspection", raise_exception=True)
@require_http_methods(["GET", "POST"])
def inspection_sign(request, pk):
    """Show what the signature vouches for and what is missing, and sign with the password."""
    inspection = _inspection(request, pk)
    if not inspection.is_on_bench:
        messages.warning(request, f"{inspection} is {inspection.stage}; only one that is on the bench can be signed.")
        return redirect(inspection)
    form = SignatureForm(posted(request), request=request)
    reasons = None
    if request.method == "POST" and form.is_valid():
        try:
            sign_inspection(inspection, by=request.user, at=timezone.now())
            messages.success(request, f"{inspection} is signed. Its readings are locked from now on.")
            return redirect(inspection)
        except StageRefused as error:
            messages.error(request, str(error))
            return redirect(inspection)
        except NotReadyToSign as error:
            reasons = error.reasons
    reasons = reasons_against_signing(inspection) if reasons is None else reasons
    context = {
        "inspection": inspection,
        "form": form,
        "reasons": reasons,
        "progress": Progress(inspection),
        "statement": STATEMENT,
        "ambient_kpa_abs": inspection.ambient_pa_abs / 1000,
    }
    return _page(request, "inspections/sign.html", context, refused=form.is_bound)


@permission_required("inspections.countersign_inspection", raise_exception=True)
@require_http_methods(["GET", "POST"])
def inspection_countersign(request, pk):
    """Confirm what another person signed."""
    inspection = _inspection(request, pk)
    if inspection.stage != Stage.SIGNED or inspection.signed_by == request.user:
        messages.error(request, _against_countersigning(inspection))
        return redirect(inspection)
    form = SignatureForm(posted(request), request=request)
    if request.method == "POST" and form.is_valid():
        try:
            countersign_inspection(inspection, by=request.user, at=timezone.now())
            messages.success(request, f"{inspection} is countersigned.")
        except StageRefused as error:
            messages.error(request, str(error))
        return redirect(inspection)
    outcomes = Outcome.objects.filter(step__inspection=inspection).exclude(decision="").select_related("step")
    context = {"inspection": inspection, "form": form, "outcomes": outcomes}
    return _page(request, "inspections/countersign.html", context, refused=form.is_bound)


@permission_required("inspections.amend_inspection", raise_exception=True)
@require_http_methods(["GET", "POST"])
def inspection_amend(request, pk):
    """Add a correction with its reason beside a signed record."""
    inspection = _inspection(request, pk)
    if not inspection.is_signed:
        messages.error(request, f"{inspection} is {inspection.stage}; only a signed record is amended.")
        return redirect(inspection)
    form = AmendForm(request.POST or None, inspection=inspection)
    if request.method == "POST" and form.is_valid():
        try:
            amend_inspection(inspection, by=request.user, at=timezone.now(), **form.cleaned_data)
            messages.success(request, "The amendment stands beside the record, which is as it was signed.")
            return redirect(inspection)
        except Refused as error:
            form.add_error(None, str(error))
    return _page(request, "inspections/amend.html", {"inspection": inspection, "form": form}, refused=form.is_bound)


def _inspection(request, pk):
    inspections = Inspection.objects.visible_to(request.user).with_place().select_related("signed_by", "version")
    return get_object_or_404(inspections, pk=pk)


def _page(request, template, context, *, refused):
    machine = context["inspection"].machine
    return render_at_site(
        request, machine.site, template, {"machine": machine, **context}, status=422 if refused else 200
    )


def _against_countersigning(inspection):
    if inspection.stage == Stage.SIGNED:
        return f"{inspection} was signed by you. Another person must countersign it."
    return f"{inspection} is {inspection.stage}; only one that is signed can be countersigned."
