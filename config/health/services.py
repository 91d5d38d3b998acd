"""Check each service of the installation, within a bounded time.

The health page needs no login, so its text about a service (`note`) holds no addresses, versions, sizes or records.
`detail` is for the command, which whoever runs Bobbin calls.
"""

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

from django.conf import settings
from django.db import connection
from django.utils import timezone

from config.celery import app
from config.health.database import AnotherVersion, check_tables, check_write
from config.health.heartbeat import seconds_since_beat
from config.health.space import least_free_mb
from fleet.jobs.heartbeat import last_heartbeat
from fleet.late.services import redis

SECONDS = 3
OLD_S = 5.0


class State(StrEnum):
    UP = "up"
    DOWN = "down"
    UNKNOWN = "not known"
    UNUSED = "not used"


@dataclass(frozen=True, slots=True)
class Part:
    name: str
    state: State
    note: str = ""
    ms: int | None = None
    detail: str = ""


class NotThere(Exception):
    """A service reports a fault: a note fit for everybody, and a detail for the administrator."""

    def __init__(self, note, detail=""):
        super().__init__(note)
        self.note, self.detail = note, detail


def examine() -> list[Part]:
    """Return the state of every service, checked in parallel, each for at most SECONDS."""
    here = {"database": ask_database, "tables": ask_tables, "space": ask_space}
    web = Part("web", State.UP, "this page")
    if not settings.REDIS_URL:
        unused = [Part(name, State.UNUSED, "no broker is configured") for name in ("broker", "worker")]
        *found, scheduler = ask_all(here | {"scheduler": ask_scheduler_here})
        return [web, *found, *unused, scheduler]
    *found, broker = ask_all(here | {"broker": ask_broker})
    if broker.state is not State.UP:
        rest = [Part(name, State.UNKNOWN, "checked through the broker") for name in ("worker", "scheduler")]
    else:
        rest = ask_all({"worker": ask_worker, "scheduler": ask_scheduler})
    return [web, *found, broker, *rest]


class Lately:
    """The states as checked at most OLD_S ago: however many requests arrive, services are checked once in that time."""

    def __init__(self, ask=examine, clock=time.monotonic):
        self.ask, self.clock = ask, clock
        self.lock = threading.Lock()
        self.forget()

    def forget(self):
        self.found, self.at = [], float("-inf")

    def parts(self) -> list[Part]:
        with self.lock:
            if self.clock() - self.at > OLD_S:
                self.found = self.ask()
                self.at = self.clock()
            return self.found


def is_in_order(parts: list[Part]) -> bool:
    return all(part.state in (State.UP, State.UNUSED) for part in parts)


def ask_database() -> None:
    try:
        check_write()
    finally:
        connection.close()


def ask_tables() -> None:
    try:
        check_tables()
    except AnotherVersion as found:
        raise NotThere("the tables belong to another version of Bobbin", str(found)) from None
    finally:
        connection.close()


def ask_space() -> str:
    free, least = least_free_mb(), settings.FREE_SPACE_MB
    if free < least:
        raise NotThere("disk space is low", f"{free:,} MB free, at least {least:,} are required")
    return f"{free:,} MB free"


def ask_broker() -> None:
    with redis.from_url(settings.REDIS_URL, socket_timeout=SECONDS, socket_connect_timeout=SECONDS) as client:
        client.ping()


def ask_worker() -> None:
    if not app.control.ping(timeout=SECONDS - 1, limit=1):
        raise NotThere("no worker responded")


def ask_scheduler() -> None:
    _judge(seconds_since_beat())


def ask_scheduler_here() -> None:
    try:
        at = last_heartbeat()
        _judge(None if at is None else (timezone.now() - at).total_seconds())
    finally:
        connection.close()


def _judge(seconds: float | None) -> None:
    late = settings.SCHEDULER_LATE_SECONDS
    if seconds is None:
        raise NotThere("no heartbeat so far", "start it with make serve, manage.py scheduler or celery beat")
    if seconds < -late:
        raise NotThere("its clock is ahead", f"its last heartbeat is {-seconds:.0f} s in the future")
    if seconds > late:
        raise NotThere("no heartbeat for too long", f"last heartbeat {seconds:.0f} s ago")


_waiting: dict[str, threading.Thread] = {}


def ask_all(questions: dict[str, Callable[[], str | None]], seconds: float = SECONDS) -> list[Part]:
    """Check in parallel; a service that has not answered an earlier check is not asked again."""
    answers: dict[str, Part] = {}
    threads = []
    for name, question in questions.items():
        if (earlier := _waiting.get(name)) and earlier.is_alive():
            continue
        thread = threading.Thread(target=_ask, args=(name, question, answers), name=f"health-{name}", daemon=True)
        _waiting[name] = thread
        threads.append(thread)
        thread.start()
    end = time.monotonic() + seconds
    for thread in threads:
        thread.join(max(0, end - time.monotonic()))
    silent = f"no response within {seconds:g} s"
    return [answers.get(name) or Part(name, State.DOWN, silent) for name in questions]


def _ask(name: str, question: Callable[[], str | None], answers: dict[str, Part]) -> None:
    start = time.monotonic()
    try:
        detail = question() or ""
    except NotThere as why:
        answers[name] = Part(name, State.DOWN, why.note, detail=why.detail)
    except Exception as error:  # whatever a driver raises, the service cannot be used; the text may hold addresses
        answers[name] = Part(name, State.DOWN, "cannot be used", detail=type(error).__name__)
    else:
        answers[name] = Part(name, State.UP, ms=round(1000 * (time.monotonic() - start)), detail=detail)
