"""Log lines for machines to read, one JSON object each, that hold no personal data.

A line is built from what is known to be harmless, never by taking things out of it: the constant text of a message
without what was put into it, chosen fields, and of an error its type and its places in the code, not its words (the
words of a database error quote the row). A page is named by its route, so neither the number of a record nor a
query is in it.
"""

import json
import logging
import re
import time
import traceback
import uuid
from datetime import UTC, datetime

from django.utils.crypto import salted_hmac

FIELDS = ("request_id", "method", "route", "status", "ms", "person")
TASK_FIELDS = ("id", "name", "runtime")
# These fill in ports, process ids, signals and names of tasks, and nothing that came from a person.
FILLED_IN = (
    "bobbin", "celery.apps", "celery.beat", "celery.worker.consumer", "celery.worker.strategy", "gunicorn",
    "py.warnings",
)  # fmt: skip
PLACES = 12
REQUEST_ID = re.compile(r"[A-Za-z0-9-]{8,64}")


class JsonLine(logging.Formatter):
    """One JSON object a line: time, level, logger, event, and the fields that apply."""

    def format(self, record):
        line = {
            "time": datetime.fromtimestamp(record.created, UTC).isoformat(timespec="milliseconds"),
            "level": record.levelname.lower(),
            "logger": record.name,
            "event": event(record),
        }
        line |= {name: record.__dict__[name] for name in FIELDS if record.__dict__.get(name) is not None}
        if isinstance(record.args, dict) and record.name.startswith("celery"):
            line |= {f"task_{name}": record.args[name] for name in TASK_FIELDS if name in record.args}
        if record.exc_info and record.exc_info[0]:
            line |= error(record.exc_info)
        return json.dumps(line, ensure_ascii=False, default=lambda value: type(value).__name__)


def event(record: logging.LogRecord) -> str:
    """Return the message; of a logger that may fill in personal data, only its constant text."""
    known = any(record.name == name or record.name.startswith(f"{name}.") for name in FILLED_IN)
    return record.getMessage() if known or not record.args else str(record.msg)


def error(exc_info) -> dict:
    """Return the type of an error and the last places that it passed, without its words."""
    places = traceback.extract_tb(exc_info[2])[-PLACES:]
    return {
        "error": f"{exc_info[0].__module__}.{exc_info[0].__qualname__}",
        "places": [f"{place.filename}:{place.lineno} {place.name}" for place in places],
    }


class RequestLog:
    """Write one line a request, with an id that the answer carries as X-Request-ID."""

    logger = logging.getLogger("bobbin.request")

    def __init__(self, get_response):
        self.get_response = get_response

    def __call__(self, request):
        given = request.headers.get("X-Request-ID", "")
        request.id = given if REQUEST_ID.fullmatch(given) else uuid.uuid4().hex
        start = time.monotonic()
        response = self.get_response(request)
        response["X-Request-ID"] = request.id
        self.logger.log(
            level(request, response),
            "request",
            extra={
                "request_id": request.id,
                "method": request.method,
                "route": route(request),
                "status": response.status_code,
                "ms": round(1000 * (time.monotonic() - start)),
                "person": person(request),
            },
        )
        return response


def level(request, response) -> int:
    """Return the level of a request's line; one that found everything in order, twice a minute, is not worth one."""
    if response.status_code >= 500:
        return logging.ERROR
    return logging.DEBUG if route(request).startswith("/health/") else logging.INFO


def route(request) -> str:
    """Return the pattern of the address, such as machines/<int:pk>/; what matches none is not repeated."""
    match = request.resolver_match
    return f"/{match.route}" if match else "no such page"


def person(request) -> str | None:
    """Return a sign that is the same for all requests of a person and leads back to nobody without the secret key.

    None when no view asked who it is: the log does not ask the database.
    """
    user = request.__dict__.get("_cached_user")
    if user is None or not user.is_authenticated:
        return None
    return salted_hmac("bobbin.log", str(user.pk)).hexdigest()[:12]


def logging_settings(kind: str) -> dict:
    """Return LOGGING for kind "plain" (words, as Django writes them) or "json" (lines as above, to standard output)."""
    if kind == "plain":
        quiet = {"level": "WARNING", "propagate": False}
        return {"version": 1, "disable_existing_loggers": False, "loggers": {"bobbin.request": quiet}}
    loggers = {
        # The request line says the same; what these add is the path and the words of an error.
        "django.request": {"level": "ERROR"},
        "django.server": {"handlers": [], "propagate": True},
        "django": {"handlers": [], "level": "INFO", "propagate": True},
        "gunicorn.error": {"handlers": [], "level": "INFO", "propagate": True},
        "gunicorn.access": {"handlers": [], "level": "CRITICAL", "propagate": False},
    }
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {"line": {"()": "config.log_lines.JsonLine"}},
        "handlers": {
            "out": {"class": "logging.StreamHandler", "stream": "ext://sys.stdout", "formatter": "line"},
        },
        "root": {"handlers": ["out"], "level": "INFO"},
        "loggers": loggers,
    }
