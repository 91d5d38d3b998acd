"""The release of a withdrawn machine: what failed, what was retested, and what still prevents it."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import PermissionDenied
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods

from fleet.views.machines import visible_machine
from fleet.web.form_methods import posted
from fleet.web.sent_numbers import sent_number
from inspections.deciding.release import candidate_retests, reasons_against_release
from inspections.deciding.release_effects import findings_after_release, release_in_words
from inspections.deciding.retest_coverage import coverages
from inspections.forms.signing import ReleaseForm
from inspections.models import Finding, Inspection, Proposal
from inspections.proposals import Releasing
from inspections.views.deciding import REFUSED, decide_or_say
from inspections.views.grounds import grounds_context, shown_grounds, status_of

CANDIDATES = 8


@permission_required("inspections.view_inspection", raise_exception=True)
@require_http_methods(["GET", "POST"])
def release(request, pk):
    """Anybody who reads inspections sees what prevents a release; those who may release machines do it here."""
    machine = visible_machine(request, pk)
    form, sent = None, None
    if request.method == "POST":
        if not request.user.has_perm("fleet.release_machine"):
            raise PermissionDenied
        retests = Inspection.objects.filter(machine=machine).select_related("signed_by")
        sent = get_object_or_404(retests, pk=sent_number(request.POST.get("retest")))
        form = ReleaseForm(posted(request), request=request)
        if form.is_valid():
            done = _release(request, machine, sent, form)
            if done:
                return done
            machine = visible_machine(request, pk)
    context = {
        "machine": machine,
        "withdrawal": machine.status_change_in_force(),
        "findings": Finding.objects.open().filter(machine=machine).with_place(),
        "planned": Inspection.objects.retesting().filter(machine=machine).select_related("procedure", "technician"),
        "proposals": Proposal.objects.waiting().filter(machine=machine, act=Proposal.Act.RELEASE),
        **_candidates(request, machine, sent, form),
    }
    status = max((status_of(one, form) for one in context["candidates"] if one["is_sent"]), default=200)
    return render(request, "inspections/release.html", context, status=422 if form and status == 200 else status)


def _release(request, machine, retest, form):
    shown = shown_grounds(request, _about(machine, retest))
    if not retest.is_signed:
        shown = None
    proposal = decide_or_say(request, form, Releasing(machine, retest), reason=form.cleaned_data["reason"], shown=shown)
    if proposal is REFUSED:
        return None
    if not proposal:
        messages.success(request, release_in_words(machine, retest))
    return redirect(proposal or machine)


def _candidates(request, machine, sent, form):
    """The retests on which a release can be based, each with what prevents it, its form and what the form showed."""
    signed = candidate_retests(machine).select_related("procedure", "signed_by", "record")
    retests = list(signed[:CANDIDATES])
    covered = coverages(machine, retests)
    candidates = [_candidate(request, machine, retest, sent, form) for retest in retests]
    candidates = [one | {"coverage": covered[one["retest"].pk]} for one in candidates]
    is_told = any(one["is_sent"] for one in candidates)
    return {"candidates": candidates, "refused_form": form if form is not None and not is_told else None}


def _candidate(request, machine, retest, sent, form):
    is_sent, act = retest == sent, Releasing(machine, retest)
    reasons = reasons_against_release(machine, retest)
    found = {"retest": retest, "reasons": reasons, "is_sent": is_sent}
    if reasons:
        return found | {"form": form if is_sent else None}
    found |= findings_after_release(machine, retest)
    if not request.user.has_perm("fleet.release_machine"):
        return found | {"form": None}
    return {
        **found,
        "form": form if is_sent else ReleaseForm(request=request, auto_id=f"release-{retest.pk}-%s"),
        "second_person": act.why_second(request.user),
        **grounds_context(request, _about(machine, retest), act.grounds()),
    }


def _about(machine, retest):
    return f"release {machine.pk} {retest.pk}"
