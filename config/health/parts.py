"""Ask each part whether it is there, within a bounded time and without telling addresses, names or records."""

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

import redis
from django.conf import settings
from django.db import connection

from config.celery import app
from config.health.heartbeat import seconds_since_beat

SECONDS = 3
BEAT_IS_LATE_S = 60


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


class NotThere(Exception):
    """A part answered that it is not in order; the message is fit for the page."""


def examine() -> list[Part]:
    """Return the state of every part, all asked side by side, none waited for longer than SECONDS."""
    if not settings.REDIS_URL:
        why = "work runs in the web process or by command: no broker is set"
        unused = [Part(name, State.UNUSED, why) for name in ("broker", "worker", "scheduler")]
        return [Part("web", State.UP, "this page"), *ask_all({"database": ask_database}), *unused]
    database, broker = ask_all({"database": ask_database, "broker": ask_broker})
    if broker.state is not State.UP:
        rest = [Part(name, State.UNKNOWN, "it is asked through the broker") for name in ("worker", "scheduler")]
    else:
        rest = ask_all({"worker": ask_worker, "scheduler": ask_scheduler})
    return [Part("web", State.UP, "this page"), database, broker, *rest]


def is_in_order(parts: list[Part]) -> bool:
    return all(part.state in (State.UP, State.UNUSED) for part in parts)


def ask_database() -> None:
    try:
        with connection.cursor() as cursor:
            cursor.execute("SELECT 1")
    finally:
        connection.close()


def ask_broker() -> None:
    with redis.from_url(settings.REDIS_URL, socket_timeout=SECONDS, socket_connect_timeout=SECONDS) as client:
        client.ping()


def ask_worker() -> None:
    if not app.control.ping(timeout=SECONDS - 1, limit=1):
        raise NotThere("no worker answered")


def ask_scheduler() -> None:
    seconds = seconds_since_beat()
    if seconds is None:
        raise NotThere("no sign of life so far")
    if seconds > BEAT_IS_LATE_S:
        raise NotThere(f"last sign of life {seconds:.0f} s ago")


_waiting: dict[str, threading.Thread] = {}


def ask_all(questions: dict[str, Callable[[], None]], seconds: float = SECONDS) -> list[Part]:
    """Ask side by side; a part that still owes the answer to an earlier question is not asked a second time."""
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
    silent = f"no answer within {seconds:g} s"
    return [answers.get(name) or Part(name, State.DOWN, silent) for name in questions]


def _ask(name: str, question: Callable[[], None], answers: dict[str, Part]) -> None:
    start = time.monotonic()
    try:
        question()
    except NotThere as why:
        answers[name] = Part(name, State.DOWN, str(why))
    except Exception as error:  # whatever a driver raises, the part cannot be used; its text may hold addresses
        answers[name] = Part(name, State.DOWN, f"cannot be reached ({type(error).__name__})")
    else:
        answers[name] = Part(name, State.UP, ms=round(1000 * (time.monotonic() - start)))
