"""Sites and areas, with what each has in service against its minimum."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.core.paginator import Paginator
from django.db.models import Prefetch
from django.shortcuts import get_object_or_404, redirect, render
from django.views.decorators.http import require_http_methods, require_safe

from fleet.actions import change_area, change_site
from fleet.forms.places import AreaForm, SiteForm
from fleet.http import FORM_METHODS, posted
from fleet.models import Area, Site


@permission_required("fleet.view_machine", raise_exception=True)
@require_safe
def sites(request):
    areas = Prefetch("areas", queryset=Area.objects.with_duties().order_by("name"))
    page = Paginator(Site.objects.visible_to(request.user).prefetch_related(areas), 10).get_page(
        request.GET.get("page")
    )
    return render(request, "fleet/sites.html", {"page": page})


@permission_required("fleet.change_site", raise_exception=True)
@require_http_methods(FORM_METHODS)
def site_edit(request, pk):
    site = get_object_or_404(Site.objects.visible_to(request.user), pk=pk)
    return _edit(request, site, SiteForm(posted(request), instance=site), change_site)


@permission_required("fleet.change_area", raise_exception=True)
@require_http_methods(FORM_METHODS)
def area_edit(request, pk):
    area = get_object_or_404(Area.objects.visible_to(request.user).select_related("site"), pk=pk)
    return _edit(request, area, AreaForm(posted(request), instance=area), change_area)


def _edit(request, place, form, action):
    name = str(place)
    if request.method == "POST" and form.is_valid():
        action(place, **form.cleaned_data)
        messages.success(request, f"{place} is changed.")
        return redirect("fleet:sites")
    return render(request, "fleet/place_edit.html", {"form": form, "name": name})
