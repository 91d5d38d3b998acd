"""The answers when something fails: pages and problems that do not use what failed, with a number to quote."""

import contextlib
import errno
import re

import kombu.exceptions
import pytest
import redis
from django import forms
from django.db import (
    DatabaseError,
    DataError,
    IntegrityError,
    InterfaceError,
    OperationalError,
    connection,
    transaction,
)
from django.test import Client, override_settings
from django.urls import get_resolver, path

from config import urls
from config.failures.sent_form import is_secret, sent_form
from fleet.models import Site
from tests.factories import make_person, make_site

AWAY = {
    "operational": OperationalError("no answer from 10.1.2.3"),
    "interface": InterfaceError("connection already closed"),
    "broken file": DatabaseError("file is not a database"),
    "redis": redis.ConnectionError("Error 111 connecting to 10.1.2.3"),
    "redis slow": redis.TimeoutError("Timeout"),
    "broker": kombu.exceptions.OperationalError("Error 111"),
    "disk full": OSError(errno.ENOSPC, "No space left on device"),
}
OURS = {
    "value": ValueError("reading of Nora Keller"),
    "integrity": IntegrityError("UNIQUE constraint failed"),
    "data": DataError("out of range"),
    "file": OSError(errno.ENOENT, "No such file"),
}
raised = []


def stumble(request, **values):
    raise raised[-1]


def half_way(request):
    """Change something in a transaction, which is rolled back unless asked otherwise, then lose the database."""
    with contextlib.suppress(InterfaceError), transaction.atomic():
        make_site()
        if not request.POST["commit"]:
            raise InterfaceError
    raise OperationalError("disk I/O error")


stumble.login_required = half_way.login_required = False


class WithStumble:
    urlpatterns = [
        path("stumble/", stumble),
        path("half-way/", half_way),
        path("api/v1/stumble/", stumble),
        *urls.urlpatterns,
    ]
    handler400, handler403, handler404, handler500 = (getattr(urls, f"handler{n}") for n in (400, 403, 404, 500))


@pytest.fixture
def client():
    return Client(raise_request_exception=False)


@pytest.fixture
def stumbling():
    with override_settings(ROOT_URLCONF=WithStumble):
        yield lambda error: raised.append(error)


@pytest.fixture
def database_away():
    """Every connection of this thread is refused from the call on until the test ends."""
    patch = pytest.MonkeyPatch()

    def refuse(*args, **kwargs):
        raise OperationalError("no answer from 10.1.2.3, user bobbin")

    def begin():
        patch.setattr(connection, "cursor", refuse)
        patch.setattr(connection, "chunked_cursor", refuse)
        patch.setattr(connection, "set_autocommit", refuse)

    yield begin
    patch.undo()


@pytest.mark.parametrize(("error", "status"), [(e, 503) for e in AWAY.values()] + [(e, 500) for e in OURS.values()])
@pytest.mark.parametrize("address", ["/stumble/", "/api/v1/stumble/"])
def test_what_is_away_answers_503_and_a_fault_of_ours_500_each_with_its_number(
    client, stumbling, address, error, status
):
    stumbling(error)
    response = client.get(address)
    assert response.status_code == status
    assert response["X-Request-ID"] in response.content.decode()
    assert bool(response.get("Retry-After")) == (status == 503)
    assert str(error.args[-1]) not in response.content.decode()
    if "api" in address:
        assert response["Content-Type"] == "application/problem+json"
        assert response.json()["request_id"] == response["X-Request-ID"]
    else:
        assert "Quote this number" in response.content.decode()


def test_an_error_that_followed_from_the_database_is_a_503_too(client, stumbling):
    error = RuntimeError("no page")
    error.__cause__ = OperationalError("database is locked")
    stumbling(error)
    assert client.get("/stumble/").status_code == 503


def addresses(resolver=None, prefix=""):
    """Every address of the program with 1 for each number and x for each text."""
    for one in (resolver or get_resolver()).url_patterns:
        route = prefix + str(one.pattern)
        if hasattr(one, "url_patterns"):
            yield from addresses(one, route)
        else:
            yield "/" + re.sub(r"<int:\w+>", "1", re.sub(r"<(?!int)(\w+:)?\w+>", "x", route))


def test_with_the_database_away_no_page_and_no_operation_answers_500(db, database_away):
    client = Client(raise_request_exception=False)
    client.force_login(make_person("planner", "technician"))
    database_away()
    answers = {}
    for address in addresses():
        for method in (client.get, client.post):
            headers = {"HTTP_AUTHORIZATION": "Bearer x"} if address.startswith("/api/") else {}
            answers[address, method.__name__] = method(address, **headers)
    wrong = {at: one.status_code for at, one in answers.items() if one.status_code == 500}
    assert not wrong
    away = [one for one in answers.values() if one.status_code == 503 and "Retry-After" in one]
    assert len(away) > len(answers) / 2, {at: one.status_code for at, one in answers.items()}
    assert not any(b"10.1.2.3" in one.content for one in answers.values())


def test_a_form_that_could_not_be_saved_comes_back_with_what_was_typed_and_can_be_sent_again(client, stumbling):
    stumbling(OperationalError("database is locked"))
    typed = {"note": 'Leaks\nat <the> "yoke"', "csrfmiddlewaretoken": "t"}
    typed |= {"kinds": ["a", "b"], "password": "hunter-2"}
    text = client.post("/stumble/?next=1", typed).content.decode()
    assert 'action="/stumble/?next=1"' in text
    assert "Leaks\nat &lt;the&gt; &quot;yoke&quot;</textarea>" in text
    assert text.count('name="kinds"') == 2
    assert re.search(r'type="password" name="password"[^>]*required', text)
    assert "hunter-2" not in text


def test_a_form_sent_by_a_part_of_a_page_is_answered_in_a_line(client, stumbling):
    stumbling(OperationalError("database is locked"))
    response = client.post("/stumble/", {"note": "x"}, headers={"HX-Request": "true"})
    assert (response.status_code, response["Content-Type"]) == (503, "text/plain; charset=utf-8")


def password_fields():
    """The names of all fields of forms of the program that hide what is typed or hold a one-time code."""
    for form in subclasses(forms.BaseForm):
        fields = getattr(form, "base_fields", {})
        for name, one in fields.items():
            if isinstance(one.widget, forms.PasswordInput):
                yield form, name


def subclasses(kind):
    for one in kind.__subclasses__():
        yield one
        yield from subclasses(one)


def test_no_field_that_hides_what_is_typed_is_ever_given_back():
    found = list(password_fields())
    assert len(found) > 5
    assert [(form, name) for form, name in found if not is_secret(name)] == []


@pytest.mark.parametrize("address", ["/login/", "/password/", "/second-factor/ask/", "/second-factor/set-up/"])
def test_nothing_of_a_form_that_identifies_a_person_is_given_back(rf, address):
    request = rf.post(address, {"username": "nora", "code": "123456", "password": "p"})
    request.resolver_match = get_resolver().resolve(address)
    assert sent_form(request) is None


@pytest.mark.parametrize("is_half_done", [True, False])
def test_a_page_says_whether_a_part_may_be_saved(client, transactional_db, stumbling, is_half_done):
    text = client.post("/half-way/", {"commit": "yes" if is_half_done else ""}).content.decode()
    assert ("Part of what you sent may be saved" in text) == is_half_done == Site.objects.exists()
    assert ("Nothing was saved" in text) != is_half_done
