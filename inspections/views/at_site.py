"""Pages of an inspection show times, days, numbers and units as the machine's site does."""

from django.shortcuts import render

from fleet.web.at_site import at_site


def render_at_site(request, site, template, context, *, status=200):
    """Render in the site's time zone and formats."""
    with at_site(site):
        return render(request, template, {**context, "site": site}, status=status)


def render_anywhere(request, site, template, context, *, status=200):
    """Render in the site's time zone and formats, or as on every page for what belongs to no one site."""
    if site:
        return render_at_site(request, site, template, context, status=status)
    return render(request, template, context, status=status)
