"""Log lines for machines: one JSON object each, without personal data."""

import json
import logging
import sys

import pytest
from django.db import IntegrityError
from django.test import override_settings
from django.urls import path

from config import urls
from config.log_lines import JsonLine, logging_settings
from tests.factories import make_person


class Lines(logging.Handler):
    """Keep the lines as they would be written."""

    def __init__(self):
        super().__init__(logging.DEBUG)
        self.setFormatter(JsonLine())
        self.lines = []

    def emit(self, record):
        self.lines.append(self.format(record))

    def requests(self):
        parsed = [json.loads(line) for line in self.lines]
        return [line for line in parsed if line["event"] == "request"]


@pytest.fixture
def lines():
    handler = Lines()
    names = ("", "bobbin.request", "django.request")
    loggers = [logging.getLogger(name) for name in names]
    levels = [logger.level for logger in loggers]
    for logger in loggers[:2]:
        logger.addHandler(handler)
        logger.setLevel(logging.DEBUG)
    yield handler
    for logger, was in zip(loggers, levels, strict=True):
        logger.removeHandler(handler)
        logger.setLevel(was)


def formatted(message, *arguments, name="someone.else", exc_info=None):
    record = logging.LogRecord(name, logging.WARNING, __file__, 1, message, arguments, exc_info)
    return json.loads(JsonLine().format(record))


def test_a_request_is_told_by_route_status_and_time(client, db, lines):
    client.force_login(make_person("auditor"))
    response = client.get("/machines/12345/?q=Nora+Keller")
    [line] = lines.requests()
    assert (line["method"], line["route"], line["status"]) == ("GET", "/machines/<int:pk>/", 404)
    assert line["request_id"] == response["X-Request-ID"]
    assert isinstance(line["ms"], int)


def test_no_line_names_a_person_a_record_or_what_was_typed(client, db, lines):
    person = make_person(
        "planner", username="keller", first_name="Nora", last_name="Keller", email="nora@hospital.example"
    )
    client.post("/login/", {"username": "keller", "password": "wrong-password-1"})
    client.force_login(person)
    client.get("/machines/?search=Theatre+Nine")
    client.get("/people/keller/who-is-this")
    text = "\n".join(lines.lines)
    assert len(lines.requests()) == 3
    for word in ("keller", "Nora", "nora@", "Theatre", "wrong-password", "who-is-this", "?"):
        assert word not in text


def test_the_sign_of_a_person_is_the_same_at_each_request_and_another_for_the_next(client, db, lines):
    for person in (make_person("planner"), make_person("planner")):
        client.force_login(person)
        client.get("/")
        client.get("/")
    signs = [line["person"] for line in lines.requests()]
    assert signs[0] == signs[1] != signs[2] == signs[3]
    assert len(signs[0]) == 12


def test_a_request_before_login_has_no_sign(client, db, lines):
    client.get("/login/")
    assert "person" not in lines.requests()[0]


def test_an_id_given_by_the_proxy_is_kept_and_one_that_could_hold_anything_is_not(client, db):
    assert client.get("/health/live/", HTTP_X_REQUEST_ID="8f14e45f-ceea").headers["X-Request-ID"] == "8f14e45f-ceea"
    assert client.get("/health/live/", HTTP_X_REQUEST_ID="nora keller").headers["X-Request-ID"] != "nora keller"


def test_what_others_fill_into_their_messages_is_left_out():
    line = formatted("Login of %s failed", "keller")
    assert line["event"] == "Login of %s failed"
    assert "keller" not in json.dumps(line)


def test_what_we_and_the_server_fill_in_is_kept():
    assert formatted("Booting worker with pid: %s", 12, name="gunicorn.error")["event"] == "Booting worker with pid: 12"


def test_a_task_is_told_by_name_and_time_without_its_arguments_and_result():
    told = {
        "id": "a1",
        "name": "fleet.jobs.tasks.send",
        "runtime": 0.5,
        "return_value": "sent to nora",
        "args": "('nora',)",
    }
    line = formatted("Task %(name)s[%(id)s] succeeded: %(return_value)s", told, name="celery.app.trace")
    assert (line["task_name"], line["task_runtime"]) == ("fleet.jobs.tasks.send", 0.5)
    assert "nora" not in json.dumps(line)


def test_an_error_is_told_by_type_and_place_without_its_words():
    try:
        raise IntegrityError('Key (username)=("keller") already exists')
    except IntegrityError:
        line = formatted("Stopped", exc_info=sys.exc_info())
    assert line["error"] == "django.db.utils.IntegrityError"
    assert "test_an_error_is_told_by_type_and_place" in line["places"][-1]
    assert "keller" not in json.dumps(line)


def stumble(request, pk):
    raise ValueError("reading of Nora Keller")


class WithStumble:
    urlpatterns = [path("stumble/<int:pk>/", stumble), *urls.urlpatterns]
    handler500 = urls.handler500


def test_a_page_that_stumbles_leaves_a_line_with_the_place_and_no_words(client, db, lines):
    client.force_login(make_person("planner"))
    client.raise_request_exception = False
    with override_settings(ROOT_URLCONF=WithStumble):
        assert client.get("/stumble/7/").status_code == 500
    text = "\n".join(lines.lines)
    assert lines.requests()[0]["level"] == "error"
    assert "builtins.ValueError" in text and " stumble" in text
    assert "Nora" not in text


def test_the_lines_go_to_standard_output_and_nothing_else_does():
    chosen = logging_settings("json")
    assert chosen["handlers"]["out"]["stream"] == "ext://sys.stdout"
    assert chosen["root"]["handlers"] == ["out"]
    assert all(not logger.get("handlers") for logger in chosen["loggers"].values())
