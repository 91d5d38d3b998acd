"""The answers 500 and 503. They use no database, session or context processor, because one of those may have failed."""

import sys

from django.http import HttpResponse
from django.middleware.csrf import get_token
from django.template.loader import render_to_string

from config.failures.kinds import is_contended, is_unavailable
from config.failures.sent_form import sent_form

SOON_S, LATER_S = 5, 30


def server_error(request):
    """Answer an unhandled error: 503 when a service is down or busy, else 500."""
    error = sys.exception()
    if is_unavailable(error):
        return unavailable(request, is_busy=is_contended(error))
    return _answer(request, 500, "500.html", {})


def unavailable(request, *, is_busy):
    """Answer 503 with what was typed, ready to be sent again."""
    context = {"is_busy": is_busy, "form": None if request.path_info.startswith("/api/") else sent_form(request)}
    response = _answer(request, 503, "503.html", context)
    response["Retry-After"] = str(SOON_S if is_busy else LATER_S)
    return response


def _answer(request, status, template, context):
    number = getattr(request, "id", "")
    commits = getattr(request, "commits", None)
    if request.headers.get("HX-Request"):
        # htmx puts no part of a failed answer on the page; its script reads the number from the header.
        return HttpResponse(
            f"The request failed. Number {number}", status=status, content_type="text/plain; charset=utf-8"
        )
    context |= {"number": number, "is_part_saved": bool(commits and commits.any), "path": request.get_full_path()}
    if context.get("form"):
        context["csrf_token"] = get_token(request)
    return HttpResponse(render_to_string(template, context), status=status)
