"""The health page and its command: the state of each service, within a bounded time, whatever is down."""

import json
import threading
import time
from datetime import timedelta
from functools import partial

import pytest
import time_machine
from django.core.management import CommandError, call_command
from django.db import OperationalError, connection
from django.db.migrations.recorder import MigrationRecorder
from django.utils import timezone

from config.health import heartbeat, services, space
from config.health.services import Lately, NotThere, State, ask_all
from config.health.views import lately
from config.probe import is_live
from fleet.jobs.heartbeat import EVERY, SCHEDULER, Beating, leave_heartbeat
from fleet.models import Heartbeat, Job
from tests.factories import NOON, make_person
from tests.services.programs import PATIENCE_S

HERE = ("web", "database", "tables", "space", "scheduler")


@pytest.fixture(autouse=True)
def asked_anew(request, monkeypatch):
    """Clear the states of the test before; write only where no transaction of the test blocks it.

    A part of a busy computer has time to answer.
    """
    lately.forget()
    monkeypatch.setattr(services, "ask_all", partial(ask_all, seconds=PATIENCE_S))
    if "transactional_db" not in request.fixturenames:
        monkeypatch.setattr(services, "check_write", lambda: None)


@pytest.fixture
def alone(transactional_db):
    """An installation without a broker whose scheduler runs, seen from the connections of the health page."""
    leave_heartbeat(SCHEDULER, at=timezone.now())


@pytest.fixture
def served(settings, redis_url):
    """The settings of an installation with a broker, where a worker and a scheduler are expected."""
    settings.REDIS_URL = redis_url
    settings.CELERY_BROKER_URL = redis_url
    heartbeat.leave_beat()
    return settings


@pytest.fixture
def worker_answers(monkeypatch):
    monkeypatch.setattr(services.app.control, "ping", lambda **options: [{"bench": {"ok": "pong"}}])


def states(response):
    return {name: part["state"] for name, part in response.json()["parts"].items()}


def test_without_a_broker_everything_but_broker_and_worker_is_asked(client, alone):
    response = client.get("/health/")
    assert states(response) == dict.fromkeys(HERE, "up") | dict.fromkeys(("broker", "worker"), "not used")
    assert response.status_code == 200


def test_with_a_broker_every_part_is_asked(client, transactional_db, served, worker_answers):
    response = client.get("/health/")
    assert states(response) == dict.fromkeys((*HERE, "broker", "worker"), "up")
    assert response.status_code == 200


def test_a_database_that_takes_no_write_is_down(client, alone, monkeypatch):
    def refuse(*args, **kwargs):
        raise OperationalError("attempt to write a readonly database")

    monkeypatch.setattr("config.health.database.leave_heartbeat", refuse)
    response = client.get("/health/")
    assert (response.status_code, states(response)["database"]) == (503, "down")


def test_the_database_is_asked_by_a_write_that_lasts(client, alone):
    before = timezone.now()
    client.get("/health/")
    assert Heartbeat.objects.get(name="health").at >= before


@pytest.mark.parametrize(
    ("app", "name", "change"),
    [("fleet", "0001_first", "remove"), ("sessions", "0001_initial", "remove"), ("fleet", "9999_later", "add")],
)
def test_tables_of_an_older_or_a_newer_version_are_told(client, alone, app, name, change):
    recorder = MigrationRecorder(connection)
    applied, forgotten = recorder.record_applied, recorder.record_unapplied
    do, undo = (applied, forgotten) if change == "add" else (forgotten, applied)
    do(app, name)
    try:
        response = client.get("/health/")
        with pytest.raises(CommandError, match="not up: tables"):
            call_command("health", only="tables")
    finally:
        undo(app, name)
    assert (response.status_code, states(response)["tables"]) == (503, "down")
    assert name not in response.content.decode()


def test_the_command_names_the_migration_that_is_missing(alone, capsys):
    recorder = MigrationRecorder(connection)
    recorder.record_unapplied("fleet", "0001_first")
    try:
        with pytest.raises(CommandError):
            call_command("health", only="tables")
    finally:
        recorder.record_applied("fleet", "0001_first")
    assert "not applied: run manage.py migrate: fleet.0001_first" in capsys.readouterr().out


def test_too_little_space_is_told_without_its_size(client, alone, settings):
    settings.FREE_SPACE_MB = space.least_free_mb() + 1_000_000
    response = client.get("/health/")
    part = response.json()["parts"]["space"]
    assert (response.status_code, part["state"], part["note"]) == (503, "down", "disk space is low")
    with pytest.raises(CommandError, match="not up: space"):
        call_command("health", only="space")


@pytest.mark.parametrize(("ago", "state"), [(None, "down"), (10, "up"), (3600, "down"), (-10, "up"), (-3600, "down")])
def test_the_scheduler_without_a_broker_is_told_by_its_sign_of_life(client, transactional_db, ago, state):
    if ago is not None:
        leave_heartbeat(SCHEDULER, at=timezone.now() - timedelta(seconds=ago))
    assert states(client.get("/health/"))["scheduler"] == state


def test_a_scheduler_that_does_a_long_job_lives(client, transactional_db):
    now = timezone.now()
    leave_heartbeat(SCHEDULER, at=now - timedelta(hours=1))
    Job.objects.create(kind="long", title="Long", key="long", asked_at=now, stage="running", heartbeat_at=now)
    assert states(client.get("/health/"))["scheduler"] == "up"


def test_the_scheduler_writes_its_sign_of_life_now_and_then_and_when_the_clock_was_set_back(
    db, django_assert_num_queries
):
    beating = Beating()
    beating.beat(at=NOON)
    with django_assert_num_queries(0):
        beating.beat(at=NOON + EVERY / 2)
    for moment in (NOON + EVERY, NOON - timedelta(days=1)):
        beating.beat(at=moment)
        assert Heartbeat.objects.get(name=SCHEDULER).at == moment


def test_however_many_ask_the_parts_are_asked_once_in_some_seconds():
    now, asked = [0.0], []
    lately = Lately(ask=lambda: asked.append(1) or [], clock=lambda: now[0])
    threads = [threading.Thread(target=lately.parts) for _ in range(20)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert len(asked) == 1
    now[0] = services.OLD_S + 0.1
    lately.parts()
    assert len(asked) == 2


def test_a_scheduler_at_the_broker_whose_clock_was_ahead_is_down(client, transactional_db, served, worker_answers):
    with time_machine.travel(timezone.now() + timedelta(hours=1)):
        heartbeat.leave_beat()
    assert states(client.get("/health/"))["scheduler"] == "down"


def test_a_database_that_is_down_is_told_without_its_address_and_signed_in_people_see_the_page(client, db, monkeypatch):
    client.force_login(make_person("planner"))

    def refuse():
        raise OperationalError('connection to server at "10.1.2.3", user "bobbin" failed')

    monkeypatch.setattr(services, "ask_database", refuse)
    response = client.get("/health/", HTTP_ACCEPT="text/html,*/*;q=0.8")
    assert response.status_code == 503
    text = response.content.decode()
    assert "A service is down" in text and "cannot be used" in text and "OperationalError" not in text
    assert "10.1.2.3" not in text and "Test Person" not in text


def test_the_page_asks_neither_session_nor_person(client, db, django_assert_num_queries):
    client.force_login(make_person("planner"))
    with django_assert_num_queries(0):  # the question to the database has a connection of its own
        client.get("/health/", HTTP_ACCEPT="text/html")
        client.get("/health/live/")


def test_a_worker_that_does_not_answer_is_told_apart_from_the_broker(client, db, served, monkeypatch):
    monkeypatch.setattr(services.app.control, "ping", lambda **options: [])
    response = client.get("/health/")
    assert response.status_code == 503
    assert (states(response)["broker"], states(response)["worker"]) == ("up", "down")


def test_a_scheduler_that_was_silent_for_minutes_is_down(client, db, served, worker_answers, monkeypatch):
    now = time.time()
    monkeypatch.setattr(heartbeat.time, "time", lambda: now + 300)
    response = client.get("/health/")
    assert states(response)["scheduler"] == "down"
    assert response.json()["parts"]["scheduler"]["note"] == "no heartbeat for too long"


def test_what_is_asked_through_a_broker_that_is_down_is_not_known(client, db, served):
    served.REDIS_URL = "redis://127.0.0.1:1/0"
    response = client.get("/health/")
    assert response.status_code == 503
    assert [states(response)[name] for name in ("broker", "worker", "scheduler")] == ["down", "not known", "not known"]


def test_a_scheduler_goes_on_when_the_broker_is_away(settings, caplog):
    settings.REDIS_URL = "redis://127.0.0.1:1/0"
    heartbeat.leave_beat()
    assert "did not accept the heartbeat: ConnectionError" in caplog.text


def test_a_part_that_hangs_is_waited_for_once_and_not_asked_again_meanwhile():
    asked, gone_on, go_on = [], [], threading.Event()

    def hang():
        asked.append(1)
        go_on.wait()
        gone_on.append(1)

    first = ask_all({"hanging": hang}, seconds=0.2)
    second = ask_all({"hanging": hang}, seconds=0.2)
    assert gone_on == [], "it was waited for until it answered"
    go_on.set()
    assert [part.state for part in first + second] == [State.DOWN, State.DOWN]
    assert first[0].note == "no response within 0.2 s"
    assert asked == [1]


def test_a_part_says_in_its_own_words_what_is_wrong():
    def complain():
        raise NotThere("no worker responded")

    assert [part.note for part in ask_all({"worker": complain})] == ["no worker responded"]


@pytest.mark.parametrize("path", ["/health/", "/health/live/"])
def test_the_addresses_take_no_change_and_are_kept_by_nobody(client, db, path):
    assert client.post(path).status_code == 405
    assert "no-store" in client.get(path)["Cache-Control"]


def test_living_needs_no_database_and_answers_any_host_without_https(client, settings):
    settings.SECURE_SSL_REDIRECT = True
    response = client.get("/health/live/", HTTP_HOST="10.0.0.7:8000")
    assert (response.status_code, response.content) == (200, b"live\n")


def test_the_command_fails_for_the_part_that_it_was_asked_for_alone(db, served, monkeypatch, capsys):
    monkeypatch.setattr(services.app.control, "ping", lambda **options: [])
    call_command("health", only="scheduler")
    assert capsys.readouterr().out.startswith("scheduler  up")
    with pytest.raises(CommandError, match="not up: worker"):
        call_command("health", only="worker")


def test_the_probe_tells_a_web_process_that_lives_from_one_that_does_not(live_server):
    assert is_live(live_server.url.rsplit(":", 1)[1])
    assert not is_live("1")


def test_the_json_holds_states_notes_and_times_only(client, db):
    told = json.loads(client.get("/health/").content)
    assert set(told) == {"in_order", "parts"}
    assert {key for part in told["parts"].values() for key in part} == {"state", "note", "ms"}
