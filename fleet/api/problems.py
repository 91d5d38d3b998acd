"""How the API answers errors: problem details. Source: RFC 9457, sections 3 and 4."""

from django.conf import settings
from django.http import HttpResponse
from ninja import Field, Schema
from ninja.renderers import JSONRenderer

MEDIA_TYPE = "application/problem+json"
TITLES = {
    "bad-request": "The request cannot be read",
    "token-refused": "No token, or one that is not accepted",
    "not-allowed": "The group of this token may not do that",
    "not-found": "There is nothing here that this token has access to",
    "method-not-allowed": "This address does not accept that method",
    "conflict": "The state of the record does not allow it",
    "too-large": "The request is too large",
    "unsupported-media-type": "The body is not JSON",
    "refused": "The request was understood but refused",
    "too-many-requests": "Too many requests with this token",
    "server-error": "The server had an error",
    "unavailable": "A service that this request needs does not respond or is busy",
}
BY_STATUS = {
    400: "bad-request",
    401: "token-refused",
    403: "not-allowed",
    404: "not-found",
    405: "method-not-allowed",
    409: "conflict",
    413: "too-large",
    415: "unsupported-media-type",
    422: "refused",
    429: "too-many-requests",
    500: "server-error",
    503: "unavailable",
}


class PlaceOfError(Schema):
    where: str = Field(description="Part of the request: “body.as_read”, “query.page_size”, “path.pk”.")
    message: str


class Problem(Schema):
    """Problem details by RFC 9457."""

    type: str = Field(description="Address that explains this kind of problem.")
    title: str
    status: int
    detail: str = Field(description="The fault and what to do about it, in a sentence.")
    instance: str = Field(description="Path of the request.")
    request_id: str = Field(description="Number of the request, to quote to the Bobbin administrator.")
    errors: list[PlaceOfError] = Field(description="Each invalid part of the request; empty for other problems.")


class Refusal(Exception):
    """Raised inside the API to answer with a problem."""

    def __init__(self, status, detail, errors=()):
        super().__init__(detail)
        self.status, self.detail, self.errors = status, detail, list(errors)


def problem_response(request, status, detail, errors=()):
    """Answer with a problem of this status; `errors` are pairs of where and what."""
    kind = BY_STATUS.get(status, "bad-request" if status < 500 else "server-error")
    content = {
        "type": f"{settings.BASE_URL}/library/api/#{kind}",
        "title": TITLES[kind],
        "status": status,
        "detail": detail,
        "instance": request.path,
        "request_id": getattr(request, "id", ""),
        "errors": [{"where": where, "message": message} for where, message in errors],
    }
    response = HttpResponse(JSONRenderer().render(request, content, response_status=status), status=status)
    response["Content-Type"] = MEDIA_TYPE
    if status == 401:
        response["WWW-Authenticate"] = 'Bearer realm="Bobbin"'
    return response
