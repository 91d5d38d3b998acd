"""Completes the OpenAPI document with the errors that every operation can return."""

from fleet.api.problems import MEDIA_TYPE, TITLES, Problem

ALWAYS = ("401", "403", "422", "429", "500", "503")
WITH_PATH = ("404",)
WITH_BODY = ("400", "413", "415")
KINDS = {
    "400": "bad-request",
    "401": "token-refused",
    "403": "not-allowed",
    "404": "not-found",
    "409": "conflict",
    "413": "too-large",
    "415": "unsupported-media-type",
    "422": "refused",
    "429": "too-many-requests",
    "500": "server-error",
    "503": "unavailable",
}
ETAG = {
    "ETag": {
        "description": "Send it as If-None-Match to check whether anything has changed.",
        "schema": {"type": "string"},
    }
}
RETRY = {
    "Retry-After": {
        "description": "Seconds to wait before the next request.",
        "schema": {"type": "string", "pattern": "^[0-9]+$"},
    }
}
IN_PROGRESS_ONLY = ("/readings", "/evaluation")


def complete(document):
    """Add to the OpenAPI document the problems of every operation, and ETag and 304 to every GET."""
    schema = Problem.model_json_schema(ref_template="#/components/schemas/{model}")
    document["components"]["schemas"] |= schema.pop("$defs") | {"Problem": schema}
    document["components"]["responses"] = {kind: _problem(kind) for kind in TITLES}
    for path, methods in document["paths"].items():
        for method, operation in methods.items():
            _complete_operation(path, method, operation)
    return document


def _complete_operation(path, method, operation):
    answers = {str(status): answer for status, answer in operation["responses"].items()}
    if method == "get":
        answers["200"]["headers"] = ETAG
        answers["304"] = {"description": "Not changed since that ETag.", "headers": ETAG}
    for status in _problems_of(path, operation):
        answers[status] = {"$ref": f"#/components/responses/{KINDS[status]}"}
    operation["responses"] = dict(sorted(answers.items()))


def _problems_of(path, operation):
    conflict = ("409",) if path.endswith(IN_PROGRESS_ONLY) else ()
    with_path = WITH_PATH if "{" in path else ()
    return ALWAYS + conflict + with_path + (WITH_BODY if "requestBody" in operation else ())


def _problem(kind):
    answer = {
        "description": TITLES[kind],
        "content": {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}},
    }
    return answer | ({"headers": RETRY} if kind in ("too-many-requests", "unavailable") else {})
