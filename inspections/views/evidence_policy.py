"""What a class of procedures may leave open: its versions, and proposing another one."""

from django.contrib.auth.decorators import permission_required
from django.core.exceptions import PermissionDenied
from django.http import Http404
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from fleet.web.form_methods import posted
from inspections.forms.intervals import PolicyForm
from inspections.models import EvidencePolicy, Proposal
from inspections.planning.interval_evidence import POLICIES
from inspections.proposals import SettingPolicy
from inspections.schedule.evidence_policies import policies_in_force
from inspections.views.deciding import REFUSED, decide_or_say
from inspections.views.grounds import grounds_context, shown_grounds, status_of

SET = "inspections.add_evidencepolicy"
VERSIONS = 20


@permission_required("inspections.view_procedure", raise_exception=True)
@require_http_methods(["GET", "POST"])
def evidence_policy(request, code):
    """Show the policy of a class with its versions; whoever may set it proposes another one here."""
    if code not in POLICIES:
        raise Http404
    may_set, policy = request.user.has_perm(SET), policies_in_force()[code]
    if request.method == "POST" and not may_set:
        raise PermissionDenied
    form = PolicyForm(posted(request), request=request, policy=policy) if may_set else None
    act = SettingPolicy(code, most_share=policy.most_share, confidence=policy.confidence, source=policy.source)
    if form and form.is_bound and form.is_valid():
        act = SettingPolicy(code, **form.asked)
        shown = shown_grounds(request, f"policy {code}")
        proposal = decide_or_say(request, form, act, reason=form.cleaned_data["reason"], shown=shown)
        if proposal is not REFUSED:
            return redirect(proposal)
    context = {
        "policy": policy, "shipped": POLICIES[code], "form": form,
        "versions": EvidencePolicy.objects.filter(code=code).select_related("by", "proposed_by")[:VERSIONS],
        "waiting": Proposal.objects.waiting().filter(subject=act.subject).first(),
        "policies": policies_in_force().values(),
    }  # fmt: skip
    context |= grounds_context(request, f"policy {code}", act.grounds()) if form else {}
    status = status_of(context, form) if form else 200
    return render(request, "inspections/evidence_policy.html", context, status=status)
