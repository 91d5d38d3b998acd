"""Limits set here for a machine model or a site: the list, adding and ending one."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from fleet.query_values import choice_asked, day_asked, page_asked
from inspections.actions import end_limit_override, set_limit_override
from inspections.errors import Refused
from inspections.forms.limits import EndLimitForm, LimitForm
from inspections.limit_texts import override_text, result_text
from inspections.models import LimitOverride
from inspections.recent import start_of

PER_PAGE = 25


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
            "result": result_text(one.test_code, one.outcome_key),
            "demand": override_text(one),
            "can_end": one.until_date is None and (not narrowed or one.site_id in narrowed),
        }
        for one in page
    ]
    return render(request, "inspections/limits.html", {"page": page, "listed": listed})


@permission_required("inspections.add_limitoverride", raise_exception=True)
@require_http_methods(["GET", "POST"])
def limit_add(request):
    form = LimitForm(request.POST or None, person=request.user, initial={"from_date": timezone.localdate()})
    if request.method == "POST" and form.is_valid():
        try:
            override = set_limit_override(by=request.user, at=timezone.now(), **form.fields_of_limit)
        except Refused as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, f"The limit is set for {override.machine_model or override.site}.")
            return redirect("inspections:limits")
    return render(request, "inspections/limit_add.html", {"form": form})


@permission_required("inspections.add_limitoverride", raise_exception=True)
@require_http_methods(["GET", "POST"])
def limit_end(request, pk):
    override = get_object_or_404(LimitOverride.objects.changeable_by(request.user).with_target(), pk=pk)
    form = EndLimitForm(request.POST or None, initial={"until_date": timezone.localdate()})
    if request.method == "POST" and form.is_valid():
        try:
            end_limit_override(override, by=request.user, at=timezone.now(), **form.cleaned_data)
        except Refused as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, "The limit ends.")
            return redirect("inspections:limits")
    result = result_text(override.test_code, override.outcome_key)
    context = {"form": form, "limit": override, "result": result, "demand": override_text(override)}
    return render(request, "inspections/limit_end.html", context)
