"""Wrong passwords are counted separately by where they were entered: a stranger locks out only strangers."""

import re
from datetime import timedelta

import pytest
import time_machine
from axes.models import AccessAttempt
from django.core import signing
from django.core.management import call_command
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from config.accounts import devices
from fleet.actions import password_link, unlock_person
from tests.factories import NOON, PASSWORD, make_person

WRONG, NEW = "never-this-one", "a-new-one-for-ana"
WAYS = ("stranger", "known device", "other known device", "signed in")


@pytest.fixture
def person(db):
    return make_person("technician", username="ana")


def sign_in(client, password=PASSWORD, username="ana"):
    return client.post("/login/", {"username": username, "password": password})


def known_device(username="ana"):
    """A browser where the account was signed in and signed out again."""
    client = Client()
    assert sign_in(client, username=username).status_code == 302
    client.post("/logout/")
    return client


def tries(way, clients, password):
    """The status of one try with a password: 429 where none is tried any more."""
    if way != "signed in":
        return sign_in(clients[way], password).status_code
    answer = clients[way].post("/second-factor/remove/", {"password": password, "code": "1"})
    return answer.status_code


@pytest.fixture
def clients(person):
    from django_otp.plugins.otp_totp.models import TOTPDevice

    signed_in = Client()
    signed_in.force_login(person)
    devices_known = {"known device": known_device(), "other known device": known_device()}
    TOTPDevice.objects.create(user=person, name="app", confirmed=True)  # so that the password is asked for at its page
    return {"stranger": Client(), "signed in": signed_in, **devices_known}


@pytest.mark.parametrize("guessed", WAYS)
def test_wrong_passwords_given_in_one_way_stop_that_way_and_no_other(clients, guessed):
    first = [tries(guessed, clients, WRONG) for _ in range(5)]
    assert first == [200] * 4 + [429]
    assert {way: tries(way, clients, PASSWORD) != 429 for way in WAYS} == {way: way != guessed for way in WAYS}


@pytest.mark.parametrize("guessed", WAYS)
@pytest.mark.parametrize("ended_by", ["unlock", "command", "link"])
def test_unlocking_and_a_password_link_end_a_lock_wherever_it_was(clients, person, guessed, ended_by):
    for _ in range(5):
        tries(guessed, clients, WRONG)
    password = PASSWORD
    if ended_by == "unlock":
        unlock_person(person, by=None, at=NOON)
    elif ended_by == "command":
        call_command("person", "unlock", "ana")
    else:
        password = set_by_link(Client(), person)
        clients["signed in"].force_login(person)
    assert tries(guessed, clients, password) != 429
    assert not AccessAttempt.objects.exists()


def set_by_link(client, person):
    person.refresh_from_db()  # a link is valid until the next login
    url = reverse("password_set", kwargs=password_link(person, by=None, at=NOON))
    form = client.get(url, follow=True).redirect_chain[-1][0]
    assert client.post(form, {"new_password1": NEW, "new_password2": NEW}).url == "/login/"
    return NEW


def test_whoever_set_the_password_by_a_link_is_not_locked_out_by_a_guesser_who_goes_on(person):
    own, guesser = Client(), Client()
    for _ in range(5):
        sign_in(guesser, WRONG)
    password = set_by_link(own, person)
    for _ in range(5):
        sign_in(guesser, WRONG)
    assert sign_in(own, password).status_code == 302


def test_the_page_of_a_locked_person_offers_a_link_and_the_unlocking(client, person):
    for _ in range(5):
        sign_in(Client(), WRONG)
    client.force_login(make_person("planner-in-chief"))
    page = client.get(reverse("fleet:person", args=[person.pk])).content.decode()
    assert "Too many wrong passwords" in page
    assert reverse("fleet:person_link", args=[person.pk]) in page
    assert reverse("fleet:person_unlock", args=[person.pk]) in page


def test_a_lock_at_the_signature_is_told_on_the_page_of_the_person(clients, client, person):
    for _ in range(5):
        tries("signed in", clients, WRONG)
    client.force_login(make_person("planner-in-chief"))
    assert "Too many wrong passwords" in client.get(reverse("fleet:person", args=[person.pk])).content.decode()


def test_signing_does_not_start_the_count_of_a_guesser_anew(clients):
    for _ in range(4):
        tries("stranger", clients, WRONG)
    tries("signed in", clients, PASSWORD)
    assert tries("stranger", clients, WRONG) == 429


def test_a_device_is_known_for_the_accounts_that_were_signed_in_there_and_for_no_other(person):
    make_person(username="rui")
    device = known_device("rui")
    for _ in range(5):
        sign_in(Client(), WRONG)
    assert sign_in(device).status_code == 429


def test_a_tablet_of_a_ward_knows_everybody_who_signed_in_there(person):
    make_person(username="rui")
    tablet = known_device()
    sign_in(tablet, username="rui")
    tablet.post("/logout/")
    for _ in range(5):
        sign_in(Client(), WRONG)
        sign_in(Client(), WRONG, username="rui")
    assert sign_in(tablet).status_code == 302


def test_the_cookie_is_out_of_reach_of_scripts_and_names_nobody(person):
    cookie = known_device().cookies[devices.COOKIE]
    assert cookie["httponly"] and cookie["samesite"] == "Lax" and cookie["max-age"] == devices.AGE
    assert "ana" not in str(signing.loads(cookie.value, salt=devices.SALT))


def test_a_cookie_that_was_made_up_altered_or_is_too_old_is_no_known_device(person):
    good = known_device().cookies[devices.COOKIE].value
    for _ in range(5):
        sign_in(Client(), WRONG)
    for value in ("x", "", good[:-1] + ("A" if good[-1] != "A" else "B"), signing.dumps(["d", []], salt="other")):
        client = Client()
        client.cookies[devices.COOKIE] = value
        assert sign_in(client).status_code == 429
    late = timezone.now() + timedelta(seconds=devices.AGE + 60)
    with time_machine.travel(late):
        for _ in range(5):
            sign_in(Client(), WRONG)
        client = Client()
        client.cookies[devices.COOKIE] = good
        assert sign_in(client).status_code == 429


def test_a_name_with_the_look_of_another_count_is_a_strangers(clients, person):
    """Nobody reaches the count of a signature or of a device by a name typed at the login."""
    device, _ = signing.loads(clients["known device"].cookies[devices.COOKIE].value, salt=devices.SALT)
    for name in ("signing: ana", f"device {device}: ana", "nobody ana"):
        for _ in range(6):
            sign_in(Client(), WRONG, username=name)
    assert all(tries(way, clients, PASSWORD) != 429 for way in WAYS)


NAMES = ("ana", "closed", "without-password", "nobody-of-this-name")


def test_the_login_answers_alike_for_every_name(person, monkeypatch):
    """Same words, same number of password hashes and of queries, whether the account exists, is locked, or does not."""
    make_person(username="closed", is_active=False)
    make_person(username="without-password").set_unusable_password()
    told = {name: [answer_to(name, monkeypatch) for _ in range(7)] for name in NAMES}
    assert [status for status, *_ in told["ana"]] == [200] * 4 + [429] * 3
    for name in NAMES:
        assert told[name] == told["ana"]


def answer_to(name, monkeypatch):
    """Return what a wrong password for a name reveals: status, text, number of hashes and queries."""
    from django.contrib.auth import hashers
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    hashed, depth = [], []
    kind = type(hashers.get_hasher())

    def counted(work):
        def run(*args, **kwargs):
            hashed.extend([] if depth else [1])
            depth.append(1)
            try:
                return work(*args, **kwargs)
            finally:
                depth.pop()

        return run

    for name_of_work in ("encode", "verify"):
        monkeypatch.setattr(kind, name_of_work, counted(getattr(kind, name_of_work)))
    client = Client()
    client.get("/login/")
    with CaptureQueriesContext(connection) as queries:
        answer = sign_in(client, WRONG, name)
    monkeypatch.undo()
    words = re.sub(
        r'name="csrfmiddlewaretoken" value="\w+"|hx-headers=\S+ "\w+"}.|at \d\d:\d\d', "", answer.content.decode()
    )
    return answer.status_code, words.replace(f'value="{name}"', ""), len(hashed), len(queries)
