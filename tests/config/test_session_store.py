import pytest
from django.contrib.sessions.backends.base import UpdateError
from django.contrib.sessions.models import Session
from django.db import OperationalError
from django.test import Client

from config.session_store import SessionStore
from tests.factories import make_person


@pytest.fixture
def store(db):
    store = SessionStore()
    store["seen"] = 1
    store.save()
    return store


@pytest.fixture
def database_away(monkeypatch):
    def save(self, **kwargs):
        raise OperationalError("the connection is closed")

    monkeypatch.setattr(Session, "save", save)


def test_a_session_that_cannot_be_written_because_the_database_is_away_says_so(store, database_away):
    with pytest.raises(OperationalError, match="connection is closed"):
        store.save()


def test_a_session_that_was_deleted_meanwhile_is_still_told_as_such(store):
    Session.objects.all().delete()
    with pytest.raises(UpdateError):
        store.save()


def test_a_request_whose_session_cannot_be_written_is_answered_503_and_is_no_bad_request(db, monkeypatch):
    client = Client(raise_request_exception=False)
    client.force_login(make_person("technician"))
    session = client.session
    session["seen"] = 1
    session.save()

    def save(self, **kwargs):
        raise OperationalError("the connection is closed")

    monkeypatch.setattr(Session, "save", save)
    assert client.get("/inspections/").status_code == 503
