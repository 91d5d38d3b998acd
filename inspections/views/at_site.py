"""Pages of an inspection show times, days, numbers and units as the machine's site does."""

from django.http import Http404
from django.shortcuts import get_object_or_404, render

from fleet.models import Person
from fleet.models.querysets.prepared_queries import prepared
from fleet.web.at_site import at_site, show_as_site
from inspections.models import Inspection, InspectionStep


def visible_inspection(request, pk, *related, with_result=False):
    """The inspection of a page, which from here on is shown as its site shows things; `related` is read with it.

    with_result  its result in words is read with it
    """
    rows = Inspection.objects.visible_to(request.user).with_place()
    rows = rows.with_result() if with_result else rows
    inspection = get_object_or_404(rows.select_related(*related) if related else rows, pk=pk)
    show_as_site(inspection.machine.site)
    return inspection


def visible_step(person, pk):
    """Return a step that `person` may see, with its machine; raise Http404 for none."""
    found = _step_at_sites_of(pk, person.pk) if person.site_ids else _step(pk)
    if not found:
        raise Http404(f"no step {pk} that {person} may see")
    return found[0]


@prepared
def _step(pk):
    return InspectionStep.objects.with_machine().filter(pk=pk)


@prepared
def _step_at_sites_of(pk, person):
    sites = Person.sites.through.objects.filter(person=person).values("site")
    return InspectionStep.objects.with_machine().filter(pk=pk, inspection__machine__area__site__in=sites)


def render_at_site(request, site, template, context, *, status=200):
    """Render in the site's time zone and formats."""
    with at_site(site):
        return render(request, template, {**context, "site": site}, status=status)


def render_anywhere(request, site, template, context, *, status=200):
    """Render in the site's time zone and formats, or as on every page for what belongs to no one site."""
    if site:
        return render_at_site(request, site, template, context, status=status)
    return render(request, template, context, status=status)
