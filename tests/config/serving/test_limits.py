"""The size of a body is checked by its header, for every sender and address, before anything reads it."""

import io
import re

import pytest
from django.conf import settings
from django.test import Client, RequestFactory
from django.test.client import ClientHandler
from django.urls import reverse

from config.serving.limits import FILE_BYTES, FRAME_BYTES, ORDINARY_BYTES, file_paths, largest_file, may_send_files
from config.serving.middleware import REFUSED
from tests.factories import make_person
from tests.matrix.addresses import all_addresses

IMPORT = reverse("fleet:import_register")
PATHS = ["/" + re.sub(r"<[^>]+>", "1", address.route) for address in all_addresses()] + ["/nowhere/", "/api/nowhere"]


class Unread(io.RawIOBase):
    """A body that fails when it is read."""

    def read(self, *_):
        raise AssertionError("the body was read")

    readline = readinto = __iter__ = read


def ask(path, length, cookies="", **environ):
    sent = RequestFactory().post(path, content_type="multipart/form-data; boundary=x", HTTP_COOKIE=cookies).environ
    response = ClientHandler()(sent | {"wsgi.input": Unread(), "CONTENT_LENGTH": str(length), **environ})
    return {"status": response.status_code, "type": response["Content-Type"], "text": response.content.decode()}


@pytest.mark.parametrize("path", PATHS)
def test_every_address_refuses_a_large_body_without_reading_it_or_asking_the_database(path):
    if path.startswith("/health/"):
        return  # gives every body the same answer, and reads none
    answer = ask(path, FILE_BYTES + FRAME_BYTES + 1)
    assert answer["status"] == 413
    is_api = path.startswith("/api/")
    assert answer["type"].startswith("application/problem+json" if is_api else "text/html")
    most = largest_file(path) or ORDINARY_BYTES
    assert f"accepts at most {most:,} bytes" in answer["text"]


@pytest.mark.parametrize("path", ["/health/", "/health/live/"])
def test_the_health_pages_read_no_body(path):
    assert ask(path, FILE_BYTES * 20)["status"] == 405


def test_only_two_addresses_take_files_that_are_large_two_photographs_and_two_files_to_attach():
    assert file_paths() == {IMPORT, reverse("inspections:check_pdf")}
    photographs = {reverse("inspections:photograph_add", args=[1]), "/m/1/fault/"}
    attached = {"/files/1/1/", "/machines/1/decommissioning/1/"}
    assert {path: largest_file(path) for path in PATHS if largest_file(path)} == {
        **dict.fromkeys(file_paths(), FILE_BYTES), **dict.fromkeys(photographs, 15_000_000),
        **dict.fromkeys(attached, settings.ATTACHMENT_BYTES),
    }  # fmt: skip


def test_a_large_file_of_nobody_is_refused_without_reading_it(db):
    answer = ask(IMPORT, ORDINARY_BYTES + 1)
    assert answer["status"] == 413
    assert "people who are signed in" in answer["text"]
    assert ask(IMPORT, ORDINARY_BYTES + 1, cookies="sessionid=made-up-by-somebody")["status"] == 413


def test_what_the_server_has_refused_is_not_passed_on_and_no_header_can_say_so():
    assert ask("/login/", 0, **{REFUSED: "Too much."})["status"] == 413
    factory = RequestFactory(headers={REFUSED: "x", "Bobbin-Body-Refused": "x"})
    assert REFUSED not in factory.get("/").META


def cookie_of(client):
    return f"{settings.SESSION_COOKIE_NAME}={client.cookies[settings.SESSION_COOKIE_NAME].value}"


def test_a_session_may_send_files_once_its_person_is_let_in_and_until_it_ends(db):
    client = Client()
    client.force_login(make_person("planner"))
    cookie = cookie_of(client)
    assert may_send_files(cookie)
    session = client.session
    session["second_factor"] = "ask"
    session.save()
    assert not may_send_files(cookie)
    session["second_factor"] = None
    session.save()
    assert may_send_files(cookie)
    client.post("/logout/")
    assert not may_send_files(cookie)
    assert not may_send_files("")


def test_somebody_who_is_signed_in_sends_a_large_file(client, db):
    client.force_login(make_person("planner"))
    file = io.BytesIO(b"asset number\n" + b"M-1\n" * 400_000)
    file.name = "large.csv"
    assert client.post(IMPORT, {"kind": "machines", "file": file}).status_code == 302
