"""Version 1 of the API: its routers, how it parses bodies, and how it answers errors."""

from functools import wraps

from django.contrib.auth.decorators import login_not_required
from django.http import Http404
from django.views.decorators.http import require_safe
from ninja import NinjaAPI
from ninja.errors import HttpError, Throttled, ValidationError
from ninja.parser import Parser
from pydantic import BaseModel

from config.api.document import complete
from fleet.api import catalogue, instruments, machines, models, places
from fleet.api.access import TokenThrottle
from fleet.api.problems import Refusal, problem_response
from fleet.caution import COMES_FIRST, NEVER_CLEARS, QUALIFIED
from fleet.characters import printable, refusal_of
from fleet.errors import Refused
from inspections.api import bench, findings, tests, work
from inspections.errors import ReadingRefused, RecordFrozen, StageRefused

LARGEST_BODY = 64 * 1024
ROUTERS = (places, models, machines, instruments, work, bench, findings, catalogue, tests)
DESCRIPTION = (
    "Register, due work, readings and results of a hospital's anaesthesia gas machines. Every request carries a token "
    "of a group; it sees the sites of its owner. Values are given as read with their unit; a name that ends in _si is "
    "in SI, and a pressure is gauge unless a name says _abs. Errors are problem details (RFC 9457). An answer to GET "
    "carries an ETag. Caution: "
    f"{QUALIFIED} {COMES_FIRST} Default limits are starting points that each site confirms. {NEVER_CLEARS}"
)


class JsonParser(Parser):
    """Accepts JSON of a bounded size and nothing else."""

    def parse_body(self, request):
        if request.content_type != "application/json":
            raise Refusal(415, f"The body is {request.content_type or 'of no stated type'}. Send application/json.")
        if len(request.body) > LARGEST_BODY:
            raise Refusal(413, f"The body has {len(request.body)} bytes; up to {LARGEST_BODY} are accepted.")
        body = super().parse_body(request)
        refuse_unprintable(body)
        return body


def refuse_unprintable(body):
    """Refuse a body with a text or key that holds unprintable characters (fleet/characters.py)."""
    waiting, errors = [("body", body)], []
    while waiting:
        where, part = waiting.pop()
        if isinstance(part, str) and (reason := refusal_of(part)):
            errors.append((where, reason))
        elif isinstance(part, dict):
            waiting += [("body", key) for key in part]
            waiting += [(f"{where}.{printable(key)}", value) for key, value in part.items()]
        elif isinstance(part, list):
            waiting += [(f"{where}.{number}", value) for number, value in enumerate(part)]
    if errors:
        raise Refusal(422, "The request holds characters that cannot be printed; see errors.", errors)


class Api(NinjaAPI):
    def get_openapi_schema(self, **kwargs):
        """Return the document with the answers that the middleware around an operation can give."""
        return complete(super().get_openapi_schema(**kwargs))

    def get_openapi_operation_id(self, operation):
        return operation.view_func.__name__


api = Api(
    title="Bobbin",
    version="1",
    description=DESCRIPTION,
    docs_url=None,
    parser=JsonParser(),
    throttle=TokenThrottle(),
    urls_namespace="api",
    docs_decorator=require_safe,
)


def only_known_parameters(view):
    """Refuse a parameter that the operation does not declare: a misspelt filter must not return everything."""

    @wraps(view)
    def checked(request, *args, **values):
        declared = set(values) - set(request.resolver_match.kwargs)
        for value in values.values():
            declared |= set(type(value).model_fields) if isinstance(value, BaseModel) else set()
        unknown = [(f"query.{name}", "not a parameter of this address") for name in request.GET if name not in declared]
        if unknown:
            raise Refusal(422, "The request has parameters that this address does not accept; see errors.", unknown)
        return view(request, *args, **values)

    return checked


api.add_decorator(only_known_parameters)
for module in ROUTERS:
    api.add_router("", module.router, throttle=TokenThrottle())


@api.exception_handler(Refusal)
def refusal(request, error):
    return problem_response(request, error.status, error.detail, error.errors)


@api.exception_handler(Refused)
def refused(request, error):
    """Answer what an action refuses: 409 for the state of the record, 422 for what was sent."""
    status = 409 if isinstance(error, RecordFrozen | StageRefused) else 422
    errors = [("body", str(error))] if isinstance(error, ReadingRefused) else []
    return problem_response(request, status, str(error), errors)


@api.exception_handler(Http404)
def not_found(request, error):
    return problem_response(
        request, 404, "There is nothing at this address, or it does not belong to a site of this token's owner."
    )


@api.exception_handler(ValidationError)
def not_as_declared(request, error):
    errors = [(".".join(str(part) for part in e["loc"]), e["msg"]) for e in error.errors]
    return problem_response(request, 422, "The request does not match the API description; see errors.", errors)


@api.exception_handler(HttpError)
def http_error(request, error):
    """Answer an HTTP error of the library, which also wraps a refusal of the parser."""
    if isinstance(error.__cause__, Refusal):
        return refusal(request, error.__cause__)
    return problem_response(request, error.status_code, "The body is not valid JSON.")


@api.exception_handler(Throttled)
def throttled(request, error):
    return problem_response(
        request, 429, "This token has sent too many requests. Wait for the time given in Retry-After."
    )


def api_urls():
    """Return the addresses. They need no session, because each operation asks for a token."""
    patterns, *names = api.urls
    for pattern in patterns:
        pattern.callback = login_not_required(pattern.callback)
    return (patterns, *names)
