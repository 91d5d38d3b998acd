"""The second factor applies to every session of an account, and no session is redirected in a circle."""

import re
from itertools import product

import pytest
from django.test import Client
from django_otp.oath import totp
from django_otp.plugins.otp_static.models import StaticDevice, StaticToken
from django_otp.plugins.otp_totp.models import TOTPDevice

from config.accounts.middleware import BEFORE_SECOND_FACTOR
from fleet.actions import remove_second_factor, set_up_second_factor
from fleet.errors import PersonRefused
from fleet.models import ChangeEntry
from tests.factories import NOON, PASSWORD, make_person

KEY = "3132333435363738393031323334353637383930"  # RFC 6238, appendix B
REMOVE, SET_UP, ASK = "/second-factor/remove/", "/second-factor/set-up/", "/second-factor/ask/"


@pytest.fixture
def person(db):
    return make_person("technician", username="ana")


def signed_in(person):
    client = Client()
    client.force_login(person)
    return client


def sign_in():
    client = Client()
    client.post("/login/", {"username": "ana", "password": PASSWORD})
    return client


def give_factor(person):
    """A factor whose recovery codes are returned; its app has shown no code yet."""
    return set_up_second_factor(person, key=KEY, step=-1, at=NOON)


def code_now():
    return f"{totp(bytes.fromhex(KEY)):06}"


def set_up_on_page(client):
    client.get(SET_UP)
    return client.post(SET_UP, {"code": f"{totp(bytes.fromhex(client.session['second_factor_key'])):06}"})


def is_in(client):
    return client.get("/machines/").status_code == 200


def test_setting_up_ends_every_older_session_and_keeps_the_one_at_work(person):
    older, at_work = [signed_in(person) for _ in range(3)], signed_in(person)
    assert "recovery codes" in set_up_on_page(at_work).content.decode()
    assert is_in(at_work)
    assert [client.get("/machines/").url for client in older] == ["/login/?next=/machines/"] * 3


def test_removing_needs_the_password_and_a_code(person):
    codes = give_factor(person)
    client = sign_in()
    client.post(ASK, {"code": codes[0]})
    for password, code in product((PASSWORD, "wrong", ""), (codes[1], "wrong", codes[0], "")):
        if (password, code) != (PASSWORD, codes[1]):
            StaticDevice.objects.update(throttling_failure_count=0, throttling_failure_timestamp=None)
            TOTPDevice.objects.update(throttling_failure_count=0, throttling_failure_timestamp=None)
            assert client.post(REMOVE, {"password": password, "code": code}).status_code in (200, 429)
    assert TOTPDevice.objects.exists() and StaticToken.objects.filter(token=codes[1]).exists()


@pytest.mark.parametrize("kind", ["app", "recovery code"])
def test_removing_with_both_ends_the_other_sessions(person, kind):
    codes = give_factor(person)
    at_work, other = sign_in(), sign_in()
    at_work.post(ASK, {"code": codes[0]})
    other.post(ASK, {"code": codes[1]})
    assert is_in(at_work) and is_in(other)
    TOTPDevice.objects.update(throttling_failure_count=0, throttling_failure_timestamp=None)  # it was asked first
    answer = at_work.post(REMOVE, {"password": PASSWORD, "code": code_now() if kind == "app" else codes[2]})
    assert answer.url == "/second-factor/" and not TOTPDevice.objects.exists()
    assert is_in(at_work) and not is_in(other)


def test_a_planner_in_chief_who_removes_a_factor_ends_the_sessions_of_the_account(person):
    codes = give_factor(person)
    client = sign_in()
    client.post(ASK, {"code": codes[0]})
    remove_second_factor(person, by=make_person("planner-in-chief"), at=NOON)
    assert not is_in(client) and is_in(sign_in())


def test_a_second_window_does_not_set_up_a_second_factor(person):
    give_factor(person)
    with pytest.raises(PersonRefused, match="already"):
        give_factor(person)
    assert TOTPDevice.objects.count() == 1
    assert ChangeEntry.objects.filter(after={"Second factor": "set up"}).count() == 1


def test_a_session_lasts_over_the_upgrade_that_counts_ended_sessions(person):
    """An account whose sessions never ended has the hash that Django gives it."""
    from django.contrib.auth.base_user import AbstractBaseUser

    assert person.get_session_auth_hash() == AbstractBaseUser.get_session_auth_hash(person)


class TestLeftAtSetUp:
    """A session of a group that must use a second factor, and what happens to the account meanwhile."""

    PAGES = ["/", "/machines/", "/password/", "/second-factor/", SET_UP, REMOVE, ASK, "/tokens/", "/login/"]

    @pytest.fixture(autouse=True)
    def required(self, settings):
        settings.SECOND_FACTOR_GROUPS = ["technician"]

    def meanwhile(self, person, settings, what):
        if what == "set up elsewhere":
            set_up_on_page(sign_in())
        elif what == "set up by an older program":  # which ended no session
            TOTPDevice.objects.create(user=person, name="app", key=KEY, confirmed=True)
        elif what == "required no more":
            settings.SECOND_FACTOR_GROUPS = []
        elif what == "left the group":
            person.groups.clear()
        elif what == "set up and removed":
            give_factor(person)
            remove_second_factor(person, by=person, at=NOON)

    @pytest.mark.parametrize(
        "what",
        ["nothing", "set up elsewhere", "set up by an older program", "required no more", "left the group",
         "set up and removed"],
    )  # fmt: skip
    def test_every_page_comes_to_an_end(self, person, settings, what):
        client = sign_in()
        self.meanwhile(person, settings, what)
        for page in self.PAGES:
            self.arrives(client, page)

    def test_a_session_that_waits_for_a_code_goes_on_when_the_factor_is_taken_away(self, person, settings):
        settings.SECOND_FACTOR_GROUPS = []
        device = TOTPDevice.objects.create(user=person, name="app", key=KEY, confirmed=True)
        client = sign_in()
        assert client.get("/machines/").url.startswith(ASK)
        device.delete()
        assert is_in(client)

    def test_removing_a_factor_that_is_required_leads_to_setting_one_up(self, person):
        codes = give_factor(person)
        client = sign_in()
        client.post(ASK, {"code": codes[0]})
        client.post(REMOVE, {"password": PASSWORD, "code": codes[1]})
        assert client.get("/machines/").url.startswith(SET_UP)
        assert "before you continue" in self.arrives(client, "/machines/")

    def arrives(self, client, page):
        """Follow redirects by hand, because Django's client raises its own error for a circle."""
        for _ in range(5):
            answer = client.get(page)
            if answer.status_code not in (301, 302):
                return answer.content.decode()
            page = answer.url
        raise AssertionError(f"{page} is sent round in a circle")


def test_no_page_but_those_of_the_factor_itself_opens_before_it_is_passed(person):
    give_factor(person)
    client = sign_in()
    assert {"second_factor_ask", "second_factor_set_up", "login", "logout", "session", "password_set"} == (
        BEFORE_SECOND_FACTOR
    )
    assert client.get(REMOVE).url.startswith(ASK)
    assert client.post(REMOVE, {"password": PASSWORD, "code": code_now()}).url.startswith(ASK)
    assert TOTPDevice.objects.exists()
    assert not re.search("secret", client.get(SET_UP).content.decode())
