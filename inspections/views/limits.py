"""Local limits for a machine model or a site: the list, adding and ending one."""

from functools import partial

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from fleet.models import Site
from fleet.web.form_methods import posted
from fleet.web.query_values import choice_asked, day_asked, page_asked
from inspections.at_bench.limit_texts import override_text, result_text
from inspections.at_bench.limits_looked_at import looked_at_of_sites
from inspections.at_bench.limits_of_site import find_limit_of_site, limits_of_site
from inspections.deciding.grounds import write_token
from inspections.deciding.limit_effects import inspections_judged_by
from inspections.errors import Refused
from inspections.forms.limits import ConfirmLimitForm, EndLimitForm, LimitForm, WithdrawConfirmationForm
from inspections.models import LimitConfirmation, LimitLeft, LimitOverride
from inspections.proposals import ConfirmingLimit, EndingLimit, SettingLimit, WithdrawingConfirmation
from inspections.schedule.recent_work import start_of
from inspections.views.deciding import REFUSED, decide_or_say
from inspections.views.grounds import grounds_context, shown_grounds, status_of

PER_PAGE = 25
MOST_SITES = 50


@permission_required("inspections.view_procedure", raise_exception=True)
@require_safe
def limits(request):
    rows = LimitOverride.objects.visible_to(request.user).with_target()
    since = day_asked(request, "since", None)
    if since:
        rows = rows.filter(at__gte=start_of(since))
    elif not choice_asked(request, "view", ["all"]):
        rows = rows.not_ended(timezone.localdate())
    page = page_asked(request, rows, PER_PAGE)
    narrowed = set(request.user.site_ids)
    listed = [
        {
            "limit": one,
            "result": result_text(one.test_code, one.result_key),
            "demand": override_text(one),
            "can_end": one.until_date is None and (not narrowed or one.site_id in narrowed),
        }
        for one in page
    ]
    context = {"page": page, "listed": listed, **_published(request)}
    return render(request, "inspections/limits.html", context)


def _published(request):
    """The published limits of the site asked for, or of the first one that the person sees, with confirmations."""
    sites = list(Site.objects.visible_to(request.user)[:MOST_SITES])
    asked = choice_asked(request, "site", [str(site.pk) for site in sites])
    site = next((one for one in sites if str(one.pk) == asked), sites[0] if sites else None)
    if site is None:
        return {"sites": sites, "site": None, "published": []}
    left = {one.code: one for one in LimitLeft.objects.in_force().filter(site=site).select_related("by")}
    published = [(one, left.get(one.code)) for one in limits_of_site(site)]
    return {
        "sites": sites, "site": site, "published": published, "looked_at": looked_at_of_sites([site])[site.pk],
    }  # fmt: skip


@permission_required("inspections.add_limitoverride", raise_exception=True)
@require_http_methods(["GET", "POST"])
def limit_confirm(request, pk, code):
    """Confirm one limit of a site by the edition in which it was looked up."""
    site = get_object_or_404(Site.objects.visible_to(request.user), pk=pk)
    found = find_limit_of_site(site, code)
    if found is None:
        raise Http404
    form = ConfirmLimitForm(posted(request), request=request)
    context = {"found": found, "site": site}
    if request.method == "POST" and form.is_valid():
        confirming = partial(ConfirmingLimit, site, code, edition=form.cleaned_data["edition"])
        way, told = _decide(request, form, f"confirm limit {pk} {code}", confirming, done="The limit is confirmed.")
        if way:
            return way
        context |= told
    return render(request, "inspections/limit_confirm.html", context | {"form": form}, status=status_of(context, form))


@permission_required("inspections.add_limitoverride", raise_exception=True)
@require_http_methods(["GET", "POST"])
def confirmation_withdraw(request, pk):
    """Withdraw a confirmation: results say again that the limit is not confirmed."""
    rows = LimitConfirmation.objects.visible_to(request.user).with_people()
    confirmation = get_object_or_404(rows, pk=pk)
    form = WithdrawConfirmationForm(posted(request), request=request)
    result = result_text(confirmation.test_code, confirmation.result_key)
    context = {"confirmation": confirmation, "result": result}
    if request.method == "POST" and form.is_valid():
        withdrawing, done = partial(WithdrawingConfirmation, confirmation), "The confirmation is withdrawn."
        way, told = _decide(request, form, f"withdraw confirmation {pk}", withdrawing, done=done)
        if way:
            return way
        context |= told
    context |= {"form": form}
    return render(request, "inspections/confirmation_withdraw.html", context, status=status_of(context, form))


@permission_required("inspections.add_limitoverride", raise_exception=True)
@require_http_methods(["GET", "POST"])
def limit_add(request):
    """A limit that would judge inspections in progress is shown once more with them before it is set."""
    initial = {"from_date": timezone.localdate()}
    form = LimitForm(posted(request), request=request, person=request.user, initial=initial)
    context = {}
    if request.method == "POST" and form.is_valid():
        said = "The limit is set."
        way, context = _decide(request, form, "add limit", lambda: SettingLimit(form.fields_of_limit), done=said)
        if way:
            return way
    return render(request, "inspections/limit_add.html", {"form": form, **context}, status=status_of(context, form))


@permission_required("inspections.add_limitoverride", raise_exception=True)
@require_http_methods(["GET", "POST"])
def limit_end(request, pk):
    override = get_object_or_404(LimitOverride.objects.changeable_by(request.user).with_target(), pk=pk)
    form = EndLimitForm(posted(request), request=request, initial={"until_date": timezone.localdate()})
    context = {"form": form, "limit": override}
    if request.method == "POST" and form.is_valid():
        ending = partial(EndingLimit, override, until_date=form.cleaned_data["until_date"])
        way, told = _decide(request, form, f"end limit {pk}", ending, done="The limit ends.")
        if way:
            return way
        context |= told
        override.refresh_from_db()
    result = result_text(override.test_code, override.result_key)
    context |= {"result": result, "demand": override_text(override)}
    return render(request, "inspections/limit_end.html", context, status=status_of(context, form))


def _decide(request, form, about, make_act, *, done):
    """Carry the change out, or propose it. Return the way on, or None with what the page is to show.

    What the change would judge is known only from the sent form. Where it judges something, the page is shown with
    that once more, and the form carries it from then on; sent again with what is so then, the change is carried out.
    """
    try:
        act = make_act()
        act.check()
        grounds, judged = act.grounds(), inspections_judged_by(act.change)
    except Refused as error:
        form.add_error(None, str(error))
        return None, {}
    told = {"judged": judged, "second_person": act.why_second(request.user), "act": act}
    token = shown_grounds(request, about)
    if token is None and judged:
        return None, {**told, "shown": write_token(about, grounds)}
    shown = grounds if token is None else token
    proposal = decide_or_say(request, form, act, reason=form.cleaned_data["reason"], shown=shown)
    if proposal is REFUSED:
        told["judged"] = inspections_judged_by(act.change)
        context = grounds_context(request, about, act.grounds())
        return None, told | (context if token is not None else {"shown": context["shown"]})
    if not proposal:
        messages.success(request, done)
    return redirect(proposal or "inspections:limits"), {}
