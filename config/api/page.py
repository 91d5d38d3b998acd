"""The API as a page for people, made from its OpenAPI document."""

from dataclasses import dataclass

from django.contrib.auth.decorators import permission_required
from django.shortcuts import render
from django.views.decorators.http import require_safe

from config.api.v1 import DESCRIPTION, api
from fleet.api.paging import LARGEST_PAGE
from fleet.api.problems import BY_STATUS, TITLES

PAGING = ("page", "page_size")  # shown once, at the head of the page


@dataclass(frozen=True, slots=True)
class Field:
    """A parameter, or a field of a body or an answer."""

    name: str
    type: str
    is_required: bool
    description: str


@dataclass(frozen=True, slots=True)
class Operation:
    method: str
    path: str
    summary: str
    description: str
    parameters: list[Field]
    body: list[Field]
    answer: str


@require_safe
@permission_required("fleet.view_machine", raise_exception=True)
def api_page(request):
    """Show the operations, the fields of their answers, and the meaning of each problem."""
    document = api.get_openapi_schema()
    schemas = document["components"]["schemas"]
    context = {
        "sections": sections_of(document),
        "answers": [(name, fields_of(schema)) for name, schema in sorted(schemas.items()) if "properties" in schema],
        "problems": [(status, kind, TITLES[kind]) for status, kind in BY_STATUS.items()],
        "description": DESCRIPTION,
        "largest_page": LARGEST_PAGE,
    }
    return render(request, "api.html", context)


def sections_of(document):
    """Return the operations by tag, in the order of the document: [(tag, [Operation, ...]), ...]."""
    sections = {}
    for path, methods in document["paths"].items():
        for method, operation in methods.items():
            sections.setdefault(operation["tags"][0], []).append(_operation(path, method, operation, document))
    return list(sections.items())


def _operation(path, method, operation, document):
    body = operation.get("requestBody", {}).get("content", {}).get("application/json", {}).get("schema", {})
    name = body.get("$ref", "").rpartition("/")[2]
    status = next(status for status in operation["responses"] if status.startswith("2"))
    return Operation(
        method=method.upper(),
        path=path,
        summary=operation["summary"],
        description=operation.get("description", ""),
        parameters=[_parameter(one) for one in operation["parameters"] if one["name"] not in PAGING],
        body=fields_of(document["components"]["schemas"][name]) if name else [],
        answer=type_words(operation["responses"][status]["content"]["application/json"]["schema"]),
    )


def _parameter(one):
    words = one.get("description") or one["schema"].get("description", "")
    return Field(one["name"], type_words(one["schema"]), one["required"], words)


def fields_of(schema):
    """Return the fields of an object, as the page shows them."""
    required = schema.get("required", ())
    return [
        Field(name, type_words(one), name in required, one.get("description", ""))
        for name, one in schema["properties"].items()
    ]


def type_words(schema):
    """Return the type of a value as text, such as “list of SiteOut” or “one of: open, closed”."""
    if "$ref" in schema:
        return schema["$ref"].rpartition("/")[2]
    if "anyOf" in schema:
        return " or ".join(type_words(one) for one in schema["anyOf"])
    if "enum" in schema:
        return "one of: " + ", ".join(str(value) for value in schema["enum"])
    if schema.get("type") == "array":
        return f"list of {type_words(schema['items'])}" if "items" in schema else "list"
    return {"date": "date", "date-time": "date and time"}.get(schema.get("format"), schema.get("type", "object"))
