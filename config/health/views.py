"""The health page, for the administrator and for monitoring programs: no login, no personal data, no session."""

from django.contrib.auth.decorators import login_not_required
from django.http import HttpResponse, JsonResponse
from django.template.loader import render_to_string
from django.urls import resolve
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from config.health.services import Lately, is_in_order

lately = Lately()


@login_not_required
@never_cache
@require_safe
def health(request):
    """Answer 200 when every service that this installation uses is up, else 503; JSON unless a browser asks."""
    parts = lately.parts()
    in_order = is_in_order(parts)
    status = 200 if in_order else 503
    if request.get_preferred_type(["application/json", "text/html"]) == "text/html":
        # Rendered without the request: reading who is signed in needs the database, which may be down.
        return HttpResponse(render_to_string("health.html", {"parts": parts, "in_order": in_order}), status=status)
    told = {part.name: {"state": part.state, "note": part.note, "ms": part.ms} for part in parts}
    return JsonResponse({"in_order": in_order, "parts": told}, status=status)


@login_not_required
@never_cache
@require_safe
def live(request):
    """Answer for the web process alone, so that a database that is down does not restart web processes."""
    return HttpResponse("live\n", content_type="text/plain")


class HealthFirst:
    """Answer the health addresses before session, login and host name are checked, which may need what is down."""

    pages = {"/health/": health, "/health/live/": live}

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        page = self.pages.get(request.path_info)
        if page is None:
            return self.get_response(request)
        request.resolver_match = resolve(request.path_info)
        return page(request)
