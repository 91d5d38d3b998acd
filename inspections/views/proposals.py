"""A proposal that waits for a second person: read, confirmed, declined or taken back."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import PermissionDenied
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.web.form_methods import posted
from inspections.deciding.grounds import changes_between
from inspections.deciding.release_effects import findings_after_release, release_in_words
from inspections.deciding.retest_coverage import coverages
from inspections.errors import GroundsChanged, Refused
from inspections.forms.signing import ProposalForm
from inspections.models import Proposal
from inspections.proposals import act_of, confirm_proposal, decline_proposal, take_back_proposal
from inspections.proposals.proposing import refuse_settling
from inspections.views.at_site import render_anywhere

LINKED = ("machine__area__site", "machine__model", "inspection__machine__area__site", "finding__machine__area__site",
          "limit__machine_model", "limit__site", "draft__procedure", "dossier", "site",
          "proposed_by", "settled_by")  # fmt: skip


@permission_required("inspections.view_inspection", raise_exception=True)
@require_http_methods(["GET", "POST"])
def proposal(request, pk):
    """Everybody who reads inspections sees it; who may do it themselves confirms or declines it."""
    found = get_object_or_404(Proposal.objects.visible_to(request.user).select_related(*LINKED), pk=pk)
    if request.method == "POST" and not request.user.has_perm(Proposal.PERMISSIONS[found.act]):
        raise PermissionDenied
    form = ProposalForm(posted(request), request=request)
    if request.method == "POST" and form.is_valid() and _settle(request, found, form):
        return redirect(found)
    context = {"proposal": found, "form": form, **_standing(found, request.user), **_release(found)}
    return render_anywhere(
        request, found.site, "inspections/proposal.html", context, status=422 if form.is_bound else 200
    )


def _settle(request, found, form):
    who = {"by": request.user, "at": timezone.now()}
    try:
        if "confirm" in request.POST:
            confirm_proposal(found, **who)
        elif "decline" in request.POST:
            decline_proposal(found, reason=form.cleaned_data["reason"], **who)
        elif "take_back" in request.POST:
            take_back_proposal(found, **who)
        else:
            form.add_error(None, "Choose confirm, decline or take back.")
            return False
    except GroundsChanged:
        form.add_error(None, "The data behind the proposal has changed, so it was not carried out. See below.")
    except Refused as error:
        for sentence in getattr(error, "reasons", [str(error)]):
            form.add_error(None, sentence)
    if form.errors:
        found.refresh_from_db()
        return False
    messages.success(request, f"{found}: {found.get_state_display().lower()}.{_effect(found)}")
    return True


def _release(found):
    """What a release that waits would close and leave open, and what its retest covered; empty for other proposals."""
    if found.act != Proposal.Act.RELEASE or not found.is_waiting:
        return {}
    machine, retest = found.machine, found.inspection
    coverage = coverages(machine, [retest])[retest.pk]
    return {**findings_after_release(machine, retest), "coverage": coverage}


def _effect(found):
    """What a release that was just confirmed closed and left open; empty for every other proposal."""
    if found.act != Proposal.Act.RELEASE or found.state != Proposal.State.CONFIRMED:
        return ""
    found.machine.refresh_from_db(fields=["status"])
    return f" {release_in_words(found.machine, found.inspection)}"


def _standing(found, person):
    """What changed since it was proposed, and what this person can do about it."""
    if not found.is_waiting:
        return {"changes": [], "against": ""}
    try:
        refuse_settling(found, person)
        against = ""
    except Refused as error:
        against = str(error)
    changes = changes_between(found.grounds, act_of(found).grounds())
    return {"changes": changes, "against": against, "is_own": found.proposed_by_id == person.pk}
