"""A request that lost a race for the database is repeated if it had committed nothing, and only then."""

import sqlite3

import psycopg.errors
import pytest
from django.contrib.auth.models import Group
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import IntegrityError, OperationalError, connection, transaction
from django.http import HttpResponse
from django.test import Client, override_settings
from django.urls import path

from config import urls
from config.failures import again
from fleet.models import Site
from tests.factories import make_site


def lost_race(code=sqlite3.SQLITE_BUSY):
    error, cause = OperationalError("database is locked"), sqlite3.OperationalError("database is locked")
    cause.sqlite_errorcode = code
    error.__cause__ = cause
    return error


def deadlock(kind=psycopg.errors.DeadlockDetected):
    error = OperationalError("deadlock detected")
    error.__cause__ = kind("deadlock detected")
    return error


calls = []
acts = {}


def act(request):
    calls.append(request)
    return acts["act"](len(calls), request) or HttpResponse("done")


act.login_required = False


class WithAct:
    urlpatterns = [path("act/", act), *urls.urlpatterns]
    handler500 = urls.handler500


@pytest.fixture
def post(monkeypatch):
    """post(act, **data): send a form to a view that calls act(count of this call, request)."""
    monkeypatch.setattr(again, "PAUSE_S", (0, 0))
    calls.clear()

    def post(what, **data):
        acts["act"] = what
        return Client(raise_request_exception=False).post("/act/", data)

    with override_settings(ROOT_URLCONF=WithAct):
        yield post


@pytest.mark.parametrize(
    "error",
    [
        lost_race(),
        lost_race(sqlite3.SQLITE_BUSY_SNAPSHOT),
        lost_race(sqlite3.SQLITE_LOCKED),
        deadlock(),
        deadlock(psycopg.errors.SerializationFailure),
        deadlock(psycopg.errors.LockNotAvailable),
    ],
    ids=repr,
)
def test_a_lost_race_is_tried_again_and_done_once(transactional_db, post, error):
    def work(count, request):
        with transaction.atomic():
            make_site(code="once")
            if count < 3:
                raise error

    assert post(work, note="x").status_code == 200
    assert (len(calls), Site.objects.count()) == (3, 1)


def test_the_last_try_is_answered_503_and_leaves_nothing(transactional_db, post):
    def work(count, request):
        with transaction.atomic():
            make_site()
            raise lost_race()

    assert post(work, note="x").status_code == 503
    assert len(calls) == again.MORE_TRIES + 1
    assert not Site.objects.exists()


@pytest.mark.parametrize("is_in_transaction", [True, False])
def test_what_was_committed_in_part_is_not_done_twice(transactional_db, post, is_in_transaction):
    def work(count, request):
        if is_in_transaction:
            with transaction.atomic():
                Group.objects.create(name="a")
        else:
            with connection.cursor() as cursor:
                cursor.execute("INSERT INTO auth_group (name) VALUES ('a')")
        raise lost_race()

    try:
        status = post(work, note="x").status_code
    except IntegrityError:
        status = None
    assert (status, len(calls), Group.objects.filter(name="a").count()) == (503, 1, 1)


@pytest.mark.parametrize("error", [OperationalError("disk I/O error"), ValueError("ours")], ids=repr)
def test_what_another_try_would_not_mend_is_not_tried_again(transactional_db, post, error):
    def work(count, request):
        raise error

    assert post(work, note="x").status_code >= 500
    assert len(calls) == 1


def test_a_request_that_has_waited_long_is_answered_rather_than_tried_again(transactional_db, post, monkeypatch):
    monkeypatch.setattr(again, "PATIENCE_S", -1)

    def work(count, request):
        raise lost_race()

    assert (post(work, note="x").status_code, len(calls)) == (503, 1)


def test_a_file_is_read_from_its_beginning_at_each_try(transactional_db, post):
    contents = []

    def work(count, request):
        contents.append(request.FILES["list"].read())
        if count == 1:
            raise lost_race()

    assert post(work, list=SimpleUploadedFile("list.csv", b"asset_number")).status_code == 200
    assert contents == [b"asset_number"] * 2
