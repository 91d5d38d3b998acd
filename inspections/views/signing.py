"""Sign, countersign and amend. Each asks for the person behind the keyboard once more, or for a reason."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.web.form_methods import posted
from inspections.actions import countersign_inspection, draft_signature, sign_inspection
from inspections.at_bench.minutes_of_work import proposed_minutes
from inspections.at_bench.open_questions import open_questions_of
from inspections.at_bench.progress import Progress
from inspections.deciding.grounds.of_record import record_grounds
from inspections.deciding.second_person import why_second_for_amendment
from inspections.errors import GroundsChanged, NotReadyToSign, StageRefused
from inspections.forms.signing import AmendForm, SignatureForm, SigningForm
from inspections.jobs.trends import request_trends_of
from inspections.models import Result, Stage
from inspections.proposals import Amending
from inspections.records.signed_record import noted_steps
from inspections.views.at_site import render_at_site, visible_inspection
from inspections.views.deciding import REFUSED, decide_or_say
from inspections.views.grounds import grounds_context, shown_grounds, status_of
from inspections.views.repair_panel import repairs_to_sign

STATEMENT = [
    "A signature cannot be undone: it locks readings, results, limits, instruments and procedure version.",
    "The manufacturer's instructions, local codes and licensed practice come first; limits here are starting points.",
    "Bobbin computes and records. It never clears a machine: the person who signs states what was measured and is "
    "responsible for it.",
]


@permission_required("inspections.sign_inspection", raise_exception=True)
@require_http_methods(["GET", "POST"])
def inspection_sign(request, pk):
    """Show what the signature vouches for and what is missing, and sign with the password."""
    inspection = _inspection(request, pk)
    if not inspection.is_in_progress:
        messages.warning(
            request, f"{inspection} is {inspection.stage_word}; only an inspection in progress can be signed."
        )
        return redirect(inspection)
    form = SigningForm(posted(request), request=request, proposed=proposed_minutes(inspection))
    about, refused = f"sign {pk}", []
    if request.method == "POST" and form.is_valid():
        try:
            minutes = form.cleaned_data["minutes"]
            how = {"shown": shown_grounds(request, about), "minutes": minutes, "signed_with": form.confirmed_with}
            now = timezone.now()
            sign_inspection(inspection, by=request.user, at=now, **how)
            request_trends_of(inspection.machine, at=now)
            messages.success(request, f"{inspection} is signed. Its readings are now locked.")
            return redirect(inspection)
        except StageRefused as error:
            messages.error(request, str(error))
            return redirect(inspection)
        except (NotReadyToSign, GroundsChanged) as error:
            refused = getattr(error, "reasons", [])
            inspection = _inspection(request, pk)  # shown again as it is now, with what is missing and what changed
    draft = draft_signature(inspection, by=request.user, at=timezone.now())
    context = {
        "inspection": inspection,
        "form": form,
        "reasons": draft.reasons or refused,
        "progress": Progress(inspection, draft.evaluated),
        "noted": noted_steps(inspection, draft.content),
        "instruments": draft.content["instruments"],
        "open_questions": open_questions_of(inspection),
        **repairs_to_sign(inspection, draft.evaluated),
        "statement": STATEMENT,
        "ambient_kpa_abs": inspection.ambient_pa_abs / 1000,
        **grounds_context(request, about, draft.grounds),
    }
    return _page(request, "inspections/sign.html", context)


@permission_required("inspections.countersign_inspection", raise_exception=True)
@require_http_methods(["GET", "POST"])
def inspection_countersign(request, pk):
    """Confirm what another person signed."""
    inspection = _inspection(request, pk)
    if inspection.stage != Stage.SIGNED or inspection.signed_by == request.user:
        messages.error(request, _against_countersigning(inspection))
        return redirect(inspection)
    form, about = SignatureForm(posted(request), request=request), f"countersign {pk}"
    if request.method == "POST" and form.is_valid():
        try:
            how = {"shown": shown_grounds(request, about), "signed_with": form.confirmed_with}
            countersign_inspection(inspection, by=request.user, at=timezone.now(), **how)
            messages.success(request, f"{inspection} is countersigned.")
            return redirect(inspection)
        except StageRefused as error:
            messages.error(request, str(error))
            return redirect(inspection)
        except GroundsChanged:
            inspection = _inspection(request, pk)
    results = Result.objects.filter(step__inspection=inspection).exclude(decision="").select_related("step")
    context = {
        "inspection": inspection,
        "form": form,
        "results": results,
        "amendments": inspection.amendments.select_related("by", "step"),
        **grounds_context(request, about, record_grounds(inspection)),
    }
    return _page(request, "inspections/countersign.html", context)


@permission_required("inspections.amend_inspection", raise_exception=True)
@require_http_methods(["GET", "POST"])
def inspection_amend(request, pk):
    """Add a correction with its reason beside a signed record."""
    inspection = _inspection(request, pk)
    if not inspection.is_signed:
        messages.error(request, f"{inspection} is {inspection.stage_word}; only a signed record can be amended.")
        return redirect(inspection)
    form, about = AmendForm(posted(request), request=request, inspection=inspection), f"amend {pk}"
    if request.method == "POST" and form.is_valid():
        done = _amend(request, inspection, form, about)
        if done:
            return done
        inspection = _inspection(request, pk)
    context = {
        "inspection": inspection,
        "form": form,
        "second_person": why_second_for_amendment(inspection),
        "amendments": inspection.amendments.select_related("by", "step"),
        **grounds_context(request, about, record_grounds(inspection)),
    }
    return _page(request, "inspections/amend.html", context)


def _amend(request, inspection, form, about):
    data = form.cleaned_data
    act = Amending(inspection, correction=data["correction"], step=data["step"])
    shown = shown_grounds(request, about)
    proposal = decide_or_say(request, form, act, reason=data["reason"], shown=shown)
    if proposal is REFUSED:
        return None
    if not proposal:
        messages.success(request, "The amendment is saved. The signed record itself is unchanged.")
    return redirect(proposal or inspection)


def _inspection(request, pk):
    return visible_inspection(request, pk, "signed_by", "version", "record")


def _page(request, template, context):
    machine, status = context["inspection"].machine, status_of(context, context["form"])
    return render_at_site(request, machine.site, template, {"machine": machine, **context}, status=status)


def _against_countersigning(inspection):
    if inspection.stage == Stage.SIGNED:
        return f"{inspection} was signed by you. Another person must countersign it."
    return f"{inspection} is {inspection.stage_word}; only a signed inspection can be countersigned."
