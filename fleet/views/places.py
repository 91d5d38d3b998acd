"""Sites and areas, with machines in service and the minimum of each."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.db.models import Prefetch
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from fleet.actions import add_area, add_site, change_area, change_site
from fleet.forms.places import AreaForm, NewSiteForm, SiteForm
from fleet.models import Area, Site
from fleet.web.form_methods import FORM_METHODS, posted
from fleet.web.query_values import day_asked, page_asked


@permission_required("fleet.view_machine", raise_exception=True)
@require_safe
def sites(request):
    """The areas with their machines, as they are or as they were on a day."""
    today = timezone.localdate()
    day = day_asked(request, "on", today)
    counted = Area.objects.with_status_counts() if day == today else Area.objects.with_status_counts_on(day)
    areas = Prefetch("areas", queryset=counted.order_by("name"))
    page = page_asked(request, Site.objects.visible_to(request.user).prefetch_related(areas), 10)
    return render(request, "fleet/sites.html", {"page": page, "day": day, "today": today, "is_past": day != today})


@permission_required("fleet.add_site", raise_exception=True)
@require_http_methods(FORM_METHODS)
def site_add(request):
    form = NewSiteForm(posted(request))
    return _kept(request, form, lambda: add_site(**_given(request, form))) or _page(request, form, "Add a site")


@permission_required("fleet.add_area", raise_exception=True)
@require_http_methods(FORM_METHODS)
def area_add(request, pk):
    site = get_object_or_404(Site.objects.visible_to(request.user), pk=pk)
    form = AreaForm(posted(request), instance=Area(site=site))
    kept = _kept(request, form, lambda: add_area(site, **_given(request, form)))
    return kept or _page(request, form, f"Add an area to {site}")


@permission_required("fleet.change_site", raise_exception=True)
@require_http_methods(FORM_METHODS)
def site_edit(request, pk):
    site = get_object_or_404(Site.objects.visible_to(request.user), pk=pk)
    title, form = f"Edit {site}", SiteForm(posted(request), instance=site)
    return _kept(request, form, lambda: change_site(site, **_given(request, form))) or _page(request, form, title)


@permission_required("fleet.change_area", raise_exception=True)
@require_http_methods(FORM_METHODS)
def area_edit(request, pk):
    area = get_object_or_404(Area.objects.visible_to(request.user).select_related("site"), pk=pk)
    title, form = f"Edit {area}", AreaForm(posted(request), instance=area)
    return _kept(request, form, lambda: change_area(area, **_given(request, form))) or _page(request, form, title)


def _given(request, form):
    return {**form.cleaned_data, "by": request.user, "at": timezone.now()}


def _kept(request, form, act):
    """Call `act` if the form was sent and is valid, and return to the list; else return None."""
    if request.method != "POST" or not form.is_valid():
        return None
    messages.success(request, f"{act()} is saved.")
    return redirect("fleet:sites")


def _page(request, form, title):
    return render(request, "fleet/place_edit.html", {"form": form, "title": title})
