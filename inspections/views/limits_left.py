"""Published limits of a site that were looked at and are left as proposed."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_http_methods

from fleet.models import Site
from fleet.web.form_methods import FORM_METHODS, posted
from inspections.actions import leave_limits_as_proposed
from inspections.at_bench.limits_looked_at import not_looked_at
from inspections.errors import Refused
from inspections.forms.limits import LeaveLimitsForm


@permission_required("inspections.add_limitoverride", raise_exception=True)
@require_http_methods(FORM_METHODS)
def limits_leave(request, pk):
    """Choose those that were looked at; none of them becomes confirmed by it."""
    site = get_object_or_404(Site.objects.visible_to(request.user), pk=pk)
    form = LeaveLimitsForm(posted(request), limits=not_looked_at(site))
    back = f"{reverse('inspections:limits')}?site={site.pk}#published"
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
