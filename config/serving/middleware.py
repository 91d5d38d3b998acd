"""Answer a request whose body is too large, before anything in Django looks at the body."""

from django.http import HttpResponse
from django.template.loader import render_to_string

from config.api.middleware import PREFIX
from config.serving.limits import ORDINARY_BYTES, limit_of, may_send_large, not_admitted, photograph_paths, too_long
from fleet.api.problems import problem_response
from fleet.web.client_address import address_of
from inspections.label_page.admission import code_in

REFUSED = "bobbin.body_refused"  # set by the server (channel.py) if it has not read the body
ADMITTED = "bobbin.body_admitted"  # set by the server for a large body that it has accepted


class BodyLimits:
    """413 with a sentence: as a page, or as a problem for the API. Reads the header only."""

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        sentence = request.META.get(REFUSED) or refusal(request)
        if sentence is None:
            return self.get_response(request)
        if request.path_info.startswith(PREFIX):
            return problem_response(request, 413, sentence)
        # Rendered without the request, so that no part of the page reads the session or the body.
        template = "inspections/label_page/refused.html" if code_in(request.path_info) else "413.html"
        response = HttpResponse(render_to_string(template, {"sentence": sentence, "status": 413}), status=413)
        if photograph_paths().fullmatch(request.path_info):
            response["Bench-Answer"] = "refused"  # so that the bench does not send it again
        return response


def refusal(request) -> str | None:
    """Return why the body is not accepted, None if it is; for servers other than Bobbin's own."""
    length = request.META.get("CONTENT_LENGTH") or "0"
    length = int(length) if length.isascii() and length.isdigit() else 0
    if length > limit_of(request.path_info):
        return too_long(request.path_info, length)
    if length <= ORDINARY_BYTES or request.META.get(ADMITTED):
        return None
    cookies = request.META.get("HTTP_COOKIE", "")
    return None if may_send_large(request.path_info, cookies, address_of(request)) else not_admitted(request.path_info)
