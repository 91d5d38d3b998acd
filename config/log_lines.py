"""Log lines without personal data, as one JSON object each for machines or as plain text for people.

A line is built from content that is known to be harmless, never by removing some: the constant text of a message
without what was put into it, chosen fields, and of an error its type and locations in the code, not its message (the
message of a database error quotes the row). A JSON line names a page by its route. A plain line adds the number of a
record, except on pages about people. Neither holds a query or other text from an address.
"""

import json
import linecache
import logging
import re
import time
import traceback
import uuid
from datetime import UTC, datetime

from django.urls import Resolver404, resolve
from django.utils.crypto import salted_hmac

from config.failures.causes import causes_of

FIELDS = ("request_id", "method", "route", "status", "ms", "person")
TASK_FIELDS = ("id", "name", "runtime")
# These fill in ports, process ids, signals and names of tasks, and nothing that came from a person.
FILLED_IN = (
    "bobbin", "celery.apps", "celery.beat", "celery.worker.consumer", "celery.worker.strategy", "gunicorn",
    "py.warnings",
)  # fmt: skip
# Messages of SQLite that hold no content of a row.
HARMLESS = re.compile(
    r"database is locked|database table is locked|database or disk is full|disk I/O error|unable to open database file"
    r"|attempt to write a readonly database|database disk image is malformed|file is not a database"
    r"|no such (table|column): [\w.]+"
)
ABOUT_PEOPLE = "people/"
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
        if request := request_of(record):
            line |= {"request_id": getattr(request, "id", None), "route": route(request)}
        if isinstance(record.args, dict) and record.name.startswith("celery"):
            line |= {f"task_{name}": record.args[name] for name in TASK_FIELDS if name in record.args}
        if record.exc_info and record.exc_info[0]:
            line |= error(record.exc_info)
        return json.dumps(line, ensure_ascii=False, default=lambda value: type(value).__name__)


class PlainLine(logging.Formatter):
    """Time, level, logger, event, path and id of the request; below it the traceback without messages."""

    def format(self, record):
        moment = datetime.fromtimestamp(record.created).astimezone().isoformat(sep=" ", timespec="milliseconds")
        line = f"{moment} {record.levelname} {record.name}: {event(record)}"
        if request := request_of(record):
            line += f" {request.method} {path(request)} id={getattr(request, 'id', '-')}"
        if record.exc_info and record.exc_info[1]:
            line += "\n" + plain_traceback(record.exc_info[1])
        return line


def request_of(record: logging.LogRecord):
    """Return the Django request that a log record is about, else None; some records carry a socket instead."""
    request = record.__dict__.get("request")
    return request if hasattr(request, "path_info") else None


def event(record: logging.LogRecord) -> str:
    """Return the event in text that holds no personal data.

    For a logger that may fill in personal data only the constant text is returned. A message that was formatted before
    it reached the log is replaced by its location in the code. Constant means: the source holds that text on that line.
    """
    if request_of(record):
        status = getattr(record, "status_code", None)
        return f"request answered {status}" if status else "request refused"
    known = any(record.name == name or record.name.startswith(f"{name}.") for name in FILLED_IN)
    if record.args:
        return record.getMessage() if known and not record.exc_info else str(record.msg)
    if (known and not record.name.startswith("gunicorn")) or _is_constant(record):
        return str(record.msg)
    return f"message at {record.module}:{record.lineno} {record.funcName}"


def _is_constant(record: logging.LogRecord) -> bool:
    lines = [linecache.getline(record.pathname, record.lineno + more) for more in range(4)]
    return bool(str(record.msg)) and any(str(record.msg) in line for line in lines)


def error(exc_info) -> dict:
    """Return the type of an error and the last locations of its traceback, without its message."""
    places = traceback.extract_tb(exc_info[2])[-PLACES:]
    return {
        "error": f"{exc_info[0].__module__}.{exc_info[0].__qualname__}",
        "places": [f"{place.filename}:{place.lineno} {place.name}" for place in places],
    }


def plain_traceback(error: BaseException) -> str:
    """Return the traceback of an error and its causes, the first cause first, with types but no messages."""
    parts = []
    for one in reversed(list(causes_of(error))):
        name = f"{type(one).__module__}.{type(one).__qualname__}"
        words = str(one) if HARMLESS.fullmatch(str(one)) else ""
        parts.append("".join(traceback.format_tb(one.__traceback__)) + (f"{name}: {words}" if words else name))
    return "Traceback (most recent call last):\n" + "\n\nfollowed by\n\n".join(parts)


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
    """Return the level of a request's line; health checks that succeed get none, because they come twice a minute."""
    if response.status_code >= 500:
        return logging.ERROR
    return logging.DEBUG if route(request).startswith("/health/") else logging.INFO


def route(request) -> str:
    """Return the pattern of the address, such as machines/<int:pk>/; an address that matches none is not logged."""
    match = _match(request)
    return f"/{match.route}" if match else "no such page"


def path(request) -> str:
    """Return the route with the numbers of records filled in, except where they are numbers of people."""
    match = _match(request)
    if match is None or match.route.startswith(ABOUT_PEOPLE):
        return route(request)
    return re.sub(r"<int:(\w+)>", lambda found: str(match.kwargs.get(found[1], found[0])), f"/{match.route}")


def _match(request):
    """Return the resolved address, also for an error that occurred before Django resolved it."""
    if request.resolver_match:
        return request.resolver_match
    try:
        return resolve(request.path_info)
    except Resolver404:
        return None


def person(request) -> str | None:
    """Return a code that is the same for all requests of a person and that nobody can resolve without the secret key.

    None if no view read the person: the log does not query the database.
    """
    user = request.__dict__.get("_cached_user")
    if user is None or not user.is_authenticated:
        return None
    return salted_hmac("bobbin.log", str(user.pk)).hexdigest()[:12]


def logging_settings(kind: str) -> dict:
    """Return LOGGING for kind "plain" (to standard error, errors and warnings) or "json" (to standard output)."""
    plain = kind == "plain"
    level = "WARNING" if plain else "INFO"
    loggers = {
        # Plain: the error line has path and id. JSON: the request line repeats what these warnings say.
        **({"bobbin.request": {"level": "CRITICAL", "propagate": False}} if plain else {}),
        "django.request": {"level": "ERROR"},
        "django.server": {"handlers": [], "propagate": True},
        "django": {"handlers": [], "level": "INFO", "propagate": True},
        "gunicorn.error": {"handlers": [], "level": level, "propagate": True},
        "gunicorn.access": {"handlers": [], "level": "CRITICAL", "propagate": False},
    }
    stream = "ext://sys.stderr" if plain else "ext://sys.stdout"
    line = "config.log_lines.PlainLine" if plain else "config.log_lines.JsonLine"
    return {
        "version": 1,
        "disable_existing_loggers": False,
        "formatters": {"line": {"()": line}},
        "handlers": {"out": {"class": "logging.StreamHandler", "stream": stream, "formatter": "line"}},
        "root": {"handlers": ["out"], "level": level},
        "loggers": loggers,
    }
