"""The health page and its command: each part told apart, within a bounded time, whatever is down."""

import json
import threading
import time

import pytest
from django.core.management import CommandError, call_command
from django.db import OperationalError

from config.health import heartbeat, parts
from config.health.parts import NotThere, State, ask_all
from config.probe import is_live
from tests.factories import make_person


@pytest.fixture
def served(settings, redis_url):
    """The settings of an installation with a broker, where a worker and a scheduler are expected."""
    settings.REDIS_URL = redis_url
    settings.CELERY_BROKER_URL = redis_url
    heartbeat.leave_beat()
    return settings


@pytest.fixture
def worker_answers(monkeypatch):
    monkeypatch.setattr(parts.app.control, "ping", lambda **options: [{"bench": {"ok": "pong"}}])


def states(response):
    return {name: part["state"] for name, part in response.json()["parts"].items()}


def test_without_a_broker_the_web_process_and_the_database_are_all_there_is(client, db):
    response = client.get("/health/")
    assert response.status_code == 200
    assert states(response) == {"web": "up", "database": "up"} | dict.fromkeys(
        ("broker", "worker", "scheduler"), "not used"
    )


def test_with_a_broker_every_part_is_asked(client, db, served, worker_answers):
    response = client.get("/health/")
    assert states(response) == dict.fromkeys(("web", "database", "broker", "worker", "scheduler"), "up")
    assert response.status_code == 200


def test_a_database_that_is_down_is_told_without_its_address_and_signed_in_people_see_the_page(client, db, monkeypatch):
    client.force_login(make_person("planner"))

    def refuse():
        raise OperationalError('connection to server at "10.1.2.3", user "bobbin" failed')

    monkeypatch.setattr(parts, "ask_database", refuse)
    response = client.get("/health/", HTTP_ACCEPT="text/html,*/*;q=0.8")
    assert response.status_code == 503
    text = response.content.decode()
    assert "A part is down" in text and "cannot be reached (OperationalError)" in text
    assert "10.1.2.3" not in text and "Test Person" not in text


def test_the_page_asks_neither_session_nor_person(client, db, django_assert_num_queries):
    client.force_login(make_person("planner"))
    with django_assert_num_queries(0):  # the question to the database has a connection of its own
        client.get("/health/", HTTP_ACCEPT="text/html")
        client.get("/health/live/")


def test_a_worker_that_does_not_answer_is_told_apart_from_the_broker(client, db, served, monkeypatch):
    monkeypatch.setattr(parts.app.control, "ping", lambda **options: [])
    response = client.get("/health/")
    assert response.status_code == 503
    assert (states(response)["broker"], states(response)["worker"]) == ("up", "down")


def test_a_scheduler_that_was_silent_for_minutes_is_down(client, db, served, worker_answers, monkeypatch):
    now = time.time()
    monkeypatch.setattr(heartbeat.time, "time", lambda: now + 300)
    response = client.get("/health/")
    assert states(response)["scheduler"] == "down"
    assert response.json()["parts"]["scheduler"]["note"] == "last sign of life 300 s ago"


def test_what_is_asked_through_a_broker_that_is_down_is_not_known(client, db, served):
    served.REDIS_URL = "redis://127.0.0.1:1/0"
    response = client.get("/health/")
    assert response.status_code == 503
    assert [states(response)[name] for name in ("broker", "worker", "scheduler")] == ["down", "not known", "not known"]


def test_a_scheduler_goes_on_when_the_broker_is_away(settings, caplog):
    settings.REDIS_URL = "redis://127.0.0.1:1/0"
    heartbeat.leave_beat()
    assert "did not take the sign of life: ConnectionError" in caplog.text


def test_a_part_that_hangs_is_waited_for_once_and_not_asked_again_meanwhile():
    asked, go_on = [], threading.Event()

    def hang():
        asked.append(1)
        go_on.wait(20)

    start = time.monotonic()
    first = ask_all({"hanging": hang}, seconds=0.2)
    second = ask_all({"hanging": hang}, seconds=0.2)
    go_on.set()
    assert time.monotonic() - start < 5
    assert [part.state for part in first + second] == [State.DOWN, State.DOWN]
    assert first[0].note == "no answer within 0.2 s"
    assert asked == [1]


def test_a_part_says_in_its_own_words_what_is_wrong():
    def complain():
        raise NotThere("no worker answered")

    assert [part.note for part in ask_all({"worker": complain})] == ["no worker answered"]


@pytest.mark.parametrize("path", ["/health/", "/health/live/"])
def test_the_addresses_take_no_change_and_are_kept_by_nobody(client, db, path):
    assert client.post(path).status_code == 405
    assert "no-store" in client.get(path)["Cache-Control"]


def test_living_needs_no_database_and_answers_any_host_without_https(client, settings):
    settings.SECURE_SSL_REDIRECT = True
    response = client.get("/health/live/", HTTP_HOST="10.0.0.7:8000")
    assert (response.status_code, response.content) == (200, b"live\n")


def test_the_command_fails_for_the_part_that_it_was_asked_for_alone(db, served, monkeypatch, capsys):
    monkeypatch.setattr(parts.app.control, "ping", lambda **options: [])
    call_command("health", only="scheduler")
    assert capsys.readouterr().out.startswith("scheduler  up")
    with pytest.raises(CommandError, match="not in order: worker"):
        call_command("health", only="worker")


def test_the_probe_tells_a_web_process_that_lives_from_one_that_does_not(live_server):
    assert is_live(live_server.url.rsplit(":", 1)[1])
    assert not is_live("1")


def test_the_json_holds_states_notes_and_times_only(client, db):
    told = json.loads(client.get("/health/").content)
    assert set(told) == {"in_order", "parts"}
    assert {key for part in told["parts"].values() for key in part} == {"state", "note", "ms"}
