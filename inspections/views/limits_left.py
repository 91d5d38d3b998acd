"""Published limits of a site that were looked at and are left as proposed."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.models import Site
from fleet.web.form_methods import FORM_METHODS, posted
from inspections.actions import leave_limits_as_proposed, take_back_limit_left
from inspections.at_bench.limit_texts import result_text
from inspections.at_bench.limits_looked_at import not_looked_at
from inspections.errors import Refused
from inspections.forms.limits import LeaveLimitsForm, TakeBackLimitForm
from inspections.models import LimitLeft


@permission_required("inspections.add_limitoverride", raise_exception=True)
@require_http_methods(FORM_METHODS)
def limits_leave(request, pk):
    """Choose those that were looked at; none of them becomes confirmed by it."""
    site = get_object_or_404(Site.objects.visible_to(request.user), pk=pk)
    form = LeaveLimitsForm(posted(request), limits=not_looked_at(site))
    back = _published(site)
    if request.method == "POST" and form.is_valid():
        said = {"reason": form.cleaned_data["reason"], "by": request.user, "at": timezone.now()}
        try:
            number = leave_limits_as_proposed(site, form.chosen, **said)
        except Refused as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, f"{number} limits are left as proposed. Results say that they are not confirmed.")
            return redirect(back)
    return render(request, "inspections/limits_leave.html", {"form": form, "site": site, "back": back})


@permission_required("inspections.add_limitoverride", raise_exception=True)
@require_http_methods(FORM_METHODS)
def limit_left_take_back(request, pk):
    """Take back that one limit was left as proposed: it counts as not looked at."""
    left = get_object_or_404(LimitLeft.objects.visible_to(request.user).select_related("site", "by"), pk=pk)
    form, back = TakeBackLimitForm(posted(request)), _published(left.site)
    if request.method == "POST" and form.is_valid():
        try:
            take_back_limit_left(left, reason=form.cleaned_data["reason"], by=request.user, at=timezone.now())
        except Refused as error:
            form.add_error(None, str(error))
        else:
            messages.success(request, "It is taken back. The limit counts as not looked at.")
            return redirect(back)
    result = result_text(left.test_code, left.result_key)
    context = {"form": form, "left": left, "result": result, "back": back}
    return render(request, "inspections/limit_left_take_back.html", context)


def _published(site):
    return f"{reverse('inspections:limits')}?site={site.pk}#published"
