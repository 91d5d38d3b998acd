"""The services that other tests use do what their names say."""

import contextlib
import socket
import threading
import time
import urllib.request

import celery
import psycopg
import redis
from django.db import connection

from tests.benchmarks.harness import measure, table
from tests.services.bobbin import web_server
from tests.services.cable import Cable
from tests.services.programs import PATIENCE_S


def test_each_test_gets_a_postgresql_database_without_tables(postgresql_url):
    with psycopg.connect(postgresql_url) as database:
        tables = database.execute("SELECT count(*) FROM pg_tables WHERE schemaname = 'public'").fetchone()
    assert tables == (0,)


def test_redis_keeps_what_it_is_told(redis_url):
    client = redis.from_url(redis_url)
    client.set("float", "bobbin", ex=10)
    assert client.get("float") == b"bobbin"


def test_a_worker_takes_part_through_the_broker(installation, worker):
    answers = celery.Celery(broker=installation["REDIS_URL"]).control.ping(timeout=PATIENCE_S, limit=1)
    assert [list(answer.values()) for answer in answers] == [[{"ok": "pong"}]]


def test_the_web_server_sends_the_login_page(installation):
    with web_server(**installation) as address, urllib.request.urlopen(f"{address}/login/") as answer:
        assert answer.status == 200
        assert b'name="password"' in answer.read()


def test_the_suite_runs_on_a_database_that_threads_can_share(db):
    assert connection.vendor == "postgresql" or not connection.is_in_memory_db()


def test_a_case_that_takes_three_times_as_long_is_shown_so():
    clock = iter([0.0, 1.0, 1.0, 4.0] * 5)
    with_clock = {"base": lambda: None, "long": lambda: None}
    timings = measure(with_clock, repeats=3, warm_up=0, clock=lambda: next(clock))
    assert table("", timings, baseline="base").splitlines()[-1].split()[-1] == "3.00"


def test_a_proxy_takes_servers_by_turns_and_passes_over_one_that_is_down():
    with contextlib.ExitStack() as stack:
        up = [stack.enter_context(_speaker(word)) for word in (b"one", b"two")]
        down = stack.enter_context(socket.socket())
        down.bind(("127.0.0.1", 0))  # held, so that nobody else takes the port, but it takes no connection
        cable = Cable(up[0], down.getsockname()[1], up[1])
        stack.callback(cable.close)
        heard = []
        for _ in range(6):
            with socket.create_connection(("127.0.0.1", cable.port), timeout=PATIENCE_S) as near:
                heard.append(near.recv(10))
    assert heard == [b"one", b"two", b"two"] * 2


def test_a_proxy_brings_an_answer_however_late_it_comes(monkeypatch):
    monkeypatch.setattr("tests.services.cable.PATIENCE_S", 0.2)
    with contextlib.ExitStack() as stack:
        cable = Cable(stack.enter_context(_speaker(b"late", after_s=1)))
        stack.callback(cable.close)
        with socket.create_connection(("127.0.0.1", cable.port), timeout=PATIENCE_S) as near:
            assert near.recv(10) == b"late"


@contextlib.contextmanager
def _speaker(word, *, after_s=0):
    """A server that says a word to each caller, after some seconds; yields its port."""
    listener = socket.create_server(("127.0.0.1", 0))

    def speak():
        with contextlib.suppress(OSError):
            while True:
                caller, _ = listener.accept()
                time.sleep(after_s)
                with caller:
                    caller.sendall(word)

    threading.Thread(target=speak, daemon=True).start()
    yield listener.getsockname()[1]
    listener.close()
