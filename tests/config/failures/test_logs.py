"""No line in either format holds what somebody typed, whatever failed; a fault can be found by its number."""

import contextlib
import logging
import os
import re
import socket
import sqlite3
import sys
import urllib.error
import urllib.request

import pytest
from django.db import OperationalError
from django.test import Client, override_settings

from config.log_lines import JsonLine, PlainLine
from tests.config.failures.test_pages import WithStumble, raised
from tests.factories import PASSWORD, make_person
from tests.services.bobbin import ROOT
from tests.services.programs import free_port, listens, running, wait_until

SECRET = "xyzzy77"
LOGGERS = ("", "bobbin", "bobbin.request", "django", "django.request", "django.security", "axes", "gunicorn.error")


class Kept(logging.Handler):
    def __init__(self):
        super().__init__(logging.DEBUG)
        self.lines = {PlainLine: [], JsonLine: []}

    def emit(self, record):
        for formatter, lines in self.lines.items():
            lines.append(formatter().format(record))


@pytest.fixture
def kept():
    handler = Kept()
    was = [(logging.getLogger(name), logging.getLogger(name).level) for name in LOGGERS]
    for logger, _ in was:
        logger.addHandler(handler)
        logger.setLevel(logging.DEBUG)
    yield handler.lines
    for logger, level in was:
        logger.removeHandler(handler)
        logger.setLevel(level)


@pytest.fixture
def client():
    return Client(raise_request_exception=False)


def stumble_with(error):
    def ask(client):
        raised.append(error)
        with override_settings(ROOT_URLCONF=WithStumble):
            client.post(f"/stumble/?q={SECRET}", {"note": SECRET})

    return ask


def sign_in(client):
    person = make_person("planner", username=f"nora-{SECRET}", last_name=SECRET)
    client.post("/login/", {"username": person.username, "password": PASSWORD})
    return client


ASKS = {
    "query": lambda c: c.get(f"/machines/?q={SECRET}&token={SECRET}"),
    "form": lambda c: c.post("/login/", {"username": SECRET, "password": SECRET}),
    "locked out": lambda c: [c.post("/login/", {"username": SECRET, "password": SECRET}) for _ in range(7)],
    "signed in": lambda c: sign_in(c).get("/people/1/"),
    "path": lambda c: c.get(f"/people/{SECRET}/of/{SECRET}"),
    "link": lambda c: c.get(f"/password/{SECRET}/{SECRET}/"),
    "slug": lambda c: c.get(f"/library/tests/{SECRET}/"),
    "host": lambda c: c.get("/login/", HTTP_HOST=f"{SECRET}.example"),
    "forged": lambda c: Client(enforce_csrf_checks=True).post("/login/", {"username": SECRET}, HTTP_REFERER=SECRET),
    "cookie": lambda c: [c.cookies.load({"sessionid": SECRET, "messages": SECRET}), c.get("/machines/")],
    "id": lambda c: c.get("/login/", HTTP_X_REQUEST_ID=f"{SECRET} {SECRET}"),
    "api token": lambda c: c.get(f"/api/v1/machines?site={SECRET}", HTTP_AUTHORIZATION=f"Bearer {SECRET}"),
    "api body": lambda c: c.post(f"/api/v1/steps/1/readings?{SECRET}", f"{{{SECRET}", content_type="application/json"),
    "our error": stumble_with(ValueError(f"reading of {SECRET}")),
    "database error": stumble_with(OperationalError(f"no answer, user {SECRET}")),
}


@pytest.mark.parametrize("ask", ASKS.values(), ids=ASKS)
def test_no_line_holds_what_was_sent(db, client, kept, ask):
    ask(client)
    assert kept[PlainLine], "something was logged"
    for lines in kept.values():
        assert [line for line in lines if SECRET in line] == []


@pytest.mark.parametrize(
    "message",
    [f"Invalid request from ip=10.0.0.9: {SECRET}", f"Invalid HTTP_HOST header: '{SECRET}'"],
)
@pytest.mark.parametrize("name", ["gunicorn.error", "django.security.DisallowedHost", "somebody.else"])
def test_a_message_filled_in_before_it_reached_the_log_is_told_by_its_place(kept, name, message):
    logging.getLogger(name).warning(message)
    for lines in kept.values():
        assert "test_logs" in lines[0]
        assert SECRET not in lines[0] and "10.0.0.9" not in lines[0]


def test_a_constant_message_is_kept(kept):
    logging.getLogger("somebody.else").warning("The broker is away")
    assert all("The broker is away" in lines[0] for lines in kept.values())


def test_an_error_of_the_server_does_not_repeat_the_address(kept):
    try:
        raise ValueError(SECRET)
    except ValueError:
        logging.getLogger("gunicorn.error").exception("Error handling request %s %s", "GET", f"/login/?p={SECRET}")
    for lines in kept.values():
        assert "ValueError" in lines[0] and SECRET not in lines[0]


def test_the_log_of_a_small_installation_has_time_path_number_and_traceback_of_a_fault(tmp_path):
    port, log = free_port(), tmp_path / "log"
    with contextlib.closing(sqlite3.connect(tmp_path / "empty.sqlite3")) as database:
        database.execute("CREATE TABLE other (name TEXT)")
    variables = {"DATA_DIR": str(tmp_path), "REDIS_URL": "", "DATABASE_URL": f"sqlite:///{tmp_path}/empty.sqlite3"}
    command = [sys.executable, "-m", "gunicorn", "config.wsgi", "--bind", f"127.0.0.1:{port}", "--threads", "2"]
    address = f"http://127.0.0.1:{port}"
    with running(command, log=log, env=os.environ | variables, cwd=ROOT) as process:
        wait_until(lambda: listens(port), what="gunicorn", log=log, process=process)
        asked = urllib.request.Request(
            f"{address}/machines/12/?who={SECRET}", headers={"Cookie": f"sessionid={SECRET * 5}"}
        )
        with pytest.raises(urllib.error.HTTPError) as answer:
            urllib.request.urlopen(asked)
        with socket.create_connection(("127.0.0.1", port)) as raw:
            raw.sendall(f"GET /login/?password={SECRET} HTTP/banana\r\n\r\n".encode())
            raw.recv(1000)
        number = answer.value.headers["X-Request-ID"]
        wait_until(lambda: "Traceback" in log.read_text(), what="the line", log=log, process=process)
    text = log.read_text()
    assert answer.value.code == 503
    [line] = [line for line in text.splitlines() if number in line]
    assert re.match(r"\d{4}-\d\d-\d\d \d\d:\d\d:\d\d\.\d{3}[+-]\d\d:\d\d ERROR django\.request", line)
    assert " GET /machines/12/ " in line
    assert "django.db.utils.OperationalError: no such table: django_session" in text
    assert "config/wsgi" in text or "django/db/backends" in text
    assert SECRET not in text
