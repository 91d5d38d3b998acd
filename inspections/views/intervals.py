"""Intervals by evidence: the dossiers, the rates of hidden failures, and the risk scores."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.exceptions import PermissionDenied
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from fleet.web.form_methods import posted
from fleet.web.query_values import accepted_fields, page_asked
from fleet.web.sent_numbers import sent_number
from inspections.actions import discard_dossier, draft_dossier
from inspections.errors import Refused
from inspections.forms.intervals import (
    ApproveIntervalForm,
    DiscardForm,
    DossierFilter,
    DossierForm,
    listed_dossiers,
)
from inspections.models import IntervalDossier, Procedure
from inspections.planning.interval_evidence import POLICIES
from inspections.proposals import ApprovingInterval
from inspections.schedule.evidence_policies import policies_in_force
from inspections.schedule.hidden_rates import hidden_rate_lines, observed_pairs
from inspections.schedule.interval_data import first_day_of_data, policy_of
from inspections.schedule.risk_scores import HISTORY_MONTHS, score_lines, score_pairs
from inspections.views.deciding import REFUSED, decide_or_say
from inspections.views.grounds import grounds_context, shown_grounds, status_of

PER_PAGE = 25
can_read = permission_required("inspections.view_procedure", raise_exception=True)
may_write = permission_required("inspections.change_procedure", raise_exception=True)


@can_read
@require_safe
def interval_dossiers(request):
    """List the dossiers: those in force and the drafts, unless the others are asked for."""
    form = DossierFilter(request.GET)
    page = page_asked(request, listed_dossiers(accepted_fields(form)), PER_PAGE)
    context = {"form": form, "page": page, "policies": policies_in_force().values()}
    return render(request, "inspections/interval_dossiers.html", context)


@may_write
@require_http_methods(["GET", "POST"])
def interval_dossier_add(request):
    form = DossierForm(posted(request), initial=_initial(request))
    if request.method == "POST" and form.is_valid():
        data = form.cleaned_data
        try:
            dossier = draft_dossier(
                form.asked, most_share=data["most_percent"] / 100, reason=data["reason"], by=request.user,
                at=timezone.now(),
            )  # fmt: skip
        except Refused as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, f"{dossier} is drafted. Nothing changes until another person approves it.")
            return redirect(dossier)
    return render(
        request, "inspections/interval_dossier_add.html", {"form": form, "policies": policies_in_force().values()}
    )


def _initial(request):
    """What the form begins with: the procedure and the model of the address, the policy, and the usual data."""
    today = timezone.localdate()
    procedure = Procedure.objects.filter(pk=sent_number(request.GET.get("procedure"))).first()
    policy = policy_of(procedure, today) if procedure else policies_in_force()["essential"]
    return {
        "procedure": procedure and procedure.pk, "machine_model": request.GET.get("model", ""),
        "window_days": procedure.window_days if procedure else 14, "data_from": first_day_of_data(today),
        "as_of": today, "most_percent": 100 * policy.most_share,
    }  # fmt: skip


@can_read
@require_http_methods(["GET", "POST"])
def interval_dossier(request, pk):
    """The evidence as it was frozen; a draft is proposed for approval here."""
    dossier = get_object_or_404(IntervalDossier.objects.with_scope(), pk=pk)
    may_propose = request.user.has_perm("inspections.add_procedureversion")
    if request.method == "POST" and not may_propose:
        raise PermissionDenied
    form, about = None, f"approve dossier {pk}"
    context = {"dossier": dossier, "evidence": dossier.evidence, "policy": POLICIES.get(dossier.policy)}
    if may_propose and dossier.is_draft:
        form = ApproveIntervalForm(posted(request), request=request, initial={"from_date": timezone.localdate()})
        day = form.cleaned_data["from_date"] if form.is_bound and form.is_valid() else None
        act = ApprovingInterval(dossier, from_date=day or timezone.localdate())
        if day:
            shown = shown_grounds(request, about)
            proposal = decide_or_say(request, form, act, reason=form.cleaned_data["reason"], shown=shown)
            if proposal is not REFUSED:
                return redirect(proposal)
        context |= grounds_context(request, about, act.grounds())
    context["form"] = form
    status = status_of(context, form) if form else 200
    return render(request, "inspections/interval_dossier.html", context, status=status)


@may_write
@require_http_methods(["GET", "POST"])
def interval_dossier_discard(request, pk):
    dossier = get_object_or_404(IntervalDossier.objects.with_scope(), pk=pk)
    form = DiscardForm(posted(request))
    if request.method == "POST" and form.is_valid():
        try:
            discard_dossier(dossier, reason=form.cleaned_data["reason"], by=request.user, at=timezone.now())
        except Refused as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, f"{dossier} is discarded. It stays readable.")
            return redirect("inspections:interval_dossiers")
    return render(request, "inspections/interval_dossier_discard.html", {"dossier": dossier, "form": form})


@can_read
@require_safe
def hidden_failure_rates(request):
    """The rate of hidden failures of each procedure on each machine model, with its exact interval."""
    today = timezone.localdate()
    first = first_day_of_data(today)
    page = page_asked(request, observed_pairs(request.user, first, today), PER_PAGE)
    context = {"page": page, "lines": hidden_rate_lines(page.object_list), "first": first, "today": today}
    return render(request, "inspections/hidden_failure_rates.html", context)


@can_read
@require_safe
def risk_scores(request):
    """The risk score of each machine model under each procedure, and the interval that it asks for."""
    today = timezone.localdate()
    page = page_asked(request, score_pairs(today), PER_PAGE)
    lines = score_lines(page.object_list, request.user, today)
    context = {"page": page, "lines": lines, "months": HISTORY_MONTHS}
    return render(request, "inspections/risk_scores.html", context)
