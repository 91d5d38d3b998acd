"""Pages of an inspection show the time of the machine's site."""

from zoneinfo import ZoneInfo

from django.shortcuts import render
from django.utils import timezone


def render_at_site(request, site, template, context, *, status=200):
    """Render with times in the site's time zone."""
    with timezone.override(ZoneInfo(site.time_zone)):
        return render(request, template, {**context, "site": site}, status=status)


def render_anywhere(request, site, template, context, *, status=200):
    """Render with times in the site's time zone, or as on every page for what belongs to no one site."""
    if site:
        return render_at_site(request, site, template, context, status=status)
    return render(request, template, context, status=status)
