"""Signing in and staying signed in: lockout, second factor, password links and the end of a session."""

import re
import time

import pytest
import time_machine
from django.core import mail
from django.test import Client
from django.urls import reverse
from django.utils import timezone
from django_otp.oath import totp
from django_otp.plugins.otp_totp.models import TOTPDevice

from fleet.actions import password_link, unlock_person
from fleet.models import ChangeEntry, Person
from tests.factories import NOON, PASSWORD, make_person

WRONG = "never-this-one"


@pytest.fixture
def person(db):
    return make_person("technician", username="ana")


def sign_in(client, password=PASSWORD, username="ana", **extra):
    return client.post("/login/", {"username": username, "password": password}, **extra)


def code_of(device):
    return f"{totp(device.bin_key):06}"


@pytest.fixture
def device(person):
    return TOTPDevice.objects.create(user=person, name="app", confirmed=True)


class TestLockout:
    def test_the_fifth_wrong_password_locks_and_says_for_how_long(self, client, person):
        answers = [sign_in(client, WRONG) for _ in range(5)]
        assert [answer.status_code for answer in answers] == [200, 200, 200, 200, 429]
        assert "locked for 15 minutes" in answers[-1].content.decode()

    def test_the_right_password_is_not_tried_while_locked(self, client, person):
        for _ in range(5):
            sign_in(client, WRONG)
        assert sign_in(client).status_code == 429
        assert "_auth_user_id" not in client.session

    def test_another_browser_at_another_address_is_locked_out_too(self, client, person):
        for number in range(5):
            sign_in(Client(), WRONG, headers={"user-agent": f"Browser {number}"}, REMOTE_ADDR=f"10.0.0.{number + 1}")
        assert sign_in(client, REMOTE_ADDR="10.1.1.1").status_code == 429

    def test_somebody_else_is_not(self, client, person):
        make_person(username="rui")
        for _ in range(5):
            sign_in(client, WRONG)
        assert sign_in(client, username="rui").status_code == 302

    def test_it_ends_by_itself(self, client, person):
        with time_machine.travel(timezone.now(), tick=False) as clock:
            for _ in range(5):
                sign_in(client, WRONG)
            clock.shift(14 * 60)
            assert "locked for 1 minute" in sign_in(client).content.decode()
            clock.shift(2 * 60)
            assert sign_in(client).status_code == 302

    def test_a_success_starts_the_count_anew(self, client, person):
        for _ in range(4):
            sign_in(client, WRONG)
        sign_in(client)
        assert [sign_in(Client(), WRONG).status_code for _ in range(4)] == [200] * 4

    def test_unlocking_ends_it(self, client, person):
        for _ in range(5):
            sign_in(client, WRONG)
        unlock_person(person, by=None, at=NOON)
        assert sign_in(client).status_code == 302

    def test_guessing_the_old_password_ends_the_guessing(self, client, person):
        client.force_login(person)
        wrong = {"old_password": WRONG, "new_password1": "a-new-one-for-ana", "new_password2": "a-new-one-for-ana"}
        answers = [client.post("/password/", wrong) for _ in range(5)]
        assert [answer.status_code for answer in answers] == [200, 200, 200, 200, 429]
        assert "You stay signed in" in answers[-1].content.decode()
        assert client.post("/password/", wrong | {"old_password": PASSWORD}).status_code == 429
        assert client.get("/machines/").status_code == 200


def test_a_short_password_is_refused(client, person):
    client.force_login(person)
    short = {"old_password": PASSWORD, "new_password1": "kestrel-91a", "new_password2": "kestrel-91a"}
    assert "at least 12 characters" in client.post("/password/", short).content.decode()


class TestPasswordLink:
    def url(self, person):
        return reverse("password_set", kwargs=password_link(person, by=None, at=NOON))

    def test_sets_the_password_once(self, client, person):
        url = self.url(person)
        page = client.get(url, follow=True)
        form = page.redirect_chain[-1][0]
        new = {"new_password1": "a-new-one-for-ana", "new_password2": "a-new-one-for-ana"}
        assert client.post(form, new).url == "/login/"
        assert sign_in(Client(), "a-new-one-for-ana").status_code == 302
        assert ChangeEntry.objects.filter(after={"Password": "changed"}, by=person).count() == 1
        assert "no longer valid" in Client().get(url, follow=True).content.decode()

    def test_is_not_good_for_longer_than_the_settings_say(self, client, person):
        url = self.url(person)
        with time_machine.travel(time.time() + 73 * 3600):
            assert "no longer valid" in client.get(url, follow=True).content.decode()

    def test_sends_no_mail(self, person):
        self.url(person)
        assert mail.outbox == []


class TestSecondFactor:
    def test_nothing_opens_before_the_code(self, client, person, device):
        assert sign_in(client, PASSWORD).status_code == 302
        assert client.get("/machines/").url == "/second-factor/ask/?next=%2Fmachines%2F"
        assert client.get("/machines/", headers={"HX-Request": "true"}).status_code == 401

    def test_the_code_opens_the_page_that_was_asked_for(self, client, person, device):
        sign_in(client)
        answer = client.post("/second-factor/ask/", {"code": code_of(device), "next": "/machines/"})
        assert answer.url == "/machines/"
        assert client.get("/machines/").status_code == 200

    def test_a_code_is_good_once(self, client, person, device):
        code = code_of(device)
        sign_in(client)
        client.post("/second-factor/ask/", {"code": code})
        other = Client()
        sign_in(other)
        assert "not accepted" in other.post("/second-factor/ask/", {"code": code}).content.decode()

    def test_wrong_codes_make_the_next_wait(self, client, person, device):
        sign_in(client)
        client.post("/second-factor/ask/", {"code": "abc"})
        assert client.post("/second-factor/ask/", {"code": code_of(device)}).status_code == 200
        device.refresh_from_db()
        assert device.throttling_failure_count == 1

    def test_an_address_elsewhere_is_not_followed(self, client, person, device):
        sign_in(client)
        answer = client.post("/second-factor/ask/", {"code": code_of(device), "next": "https://elsewhere.example/"})
        assert answer.url == "/"

    def test_is_set_up_with_the_apps_code_and_gives_recovery_codes_that_work_once(self, client, person):
        client.force_login(person)
        page = client.get("/second-factor/set-up/").content.decode()
        assert "<svg" in page
        key = client.session["second_factor_key"]
        done = client.post("/second-factor/set-up/", {"code": f"{totp(bytes.fromhex(key)):06}"}).content.decode()
        codes = re.findall(r"<li>([a-z2-7]{8})</li>", done)
        assert len(codes) == 10
        for expected in (302, 200):
            again = Client()
            sign_in(again)
            assert again.post("/second-factor/ask/", {"code": codes[0].upper()}).status_code == expected
        assert ChangeEntry.objects.filter(record="person", record_pk=person.pk).exists()

    def test_a_wrong_first_code_sets_nothing_up(self, client, person):
        client.force_login(person)
        client.get("/second-factor/set-up/")
        assert "not the code" in client.post("/second-factor/set-up/", {"code": "12"}).content.decode()
        assert not TOTPDevice.objects.exists()

    def test_a_group_that_requires_it_sets_it_up_first(self, client, person, settings):
        settings.SECOND_FACTOR_GROUPS = ["technician"]
        sign_in(client)
        assert client.get("/machines/").url.startswith("/second-factor/set-up/")
        assert "before you continue" in client.get("/second-factor/set-up/").content.decode()


class TestSession:
    def test_ends_without_a_request_and_not_before(self, client, person, settings):
        with time_machine.travel(timezone.now(), tick=False) as clock:
            client.force_login(person)
            for _ in range(3):
                clock.shift(settings.SESSION_COOKIE_AGE - 60)
                assert client.get("/machines/").status_code == 200
            clock.shift(settings.SESSION_COOKIE_AGE + 1)
            assert client.get("/machines/").status_code == 302

    def test_asking_how_much_is_left_does_not_move_it_on_but_a_press_does(self, client, person, settings):
        with time_machine.travel(timezone.now(), tick=False) as clock:
            client.force_login(person)
            clock.shift(600)
            assert client.get("/session/").json() == {"seconds": settings.SESSION_COOKIE_AGE - 600}
            assert client.get("/session/").json() == {"seconds": settings.SESSION_COOKIE_AGE - 600}
            assert client.post("/session/").json() == {"seconds": settings.SESSION_COOKIE_AGE}

    def test_nobody_has_nothing_left(self, client, db):
        assert client.get("/session/").json() == {"seconds": 0}

    def test_a_part_of_a_page_is_not_replaced_by_the_login(self, client, db):
        answer = client.get("/machines/", headers={"HX-Request": "true"})
        assert answer.status_code == 401 and b"<html" not in answer.content

    def test_a_form_sent_too_late_keeps_what_was_typed_but_no_password(self, client, db):
        typed = {"title": "Flush <sticks>", "sites": ["1", "2"], "password": WRONG, "csrfmiddlewaretoken": "x"}
        answer = client.post("/machines/1/fault/", typed)
        page = answer.content.decode()
        assert answer.status_code == 401
        assert '<input type="hidden" name="title" value="Flush &lt;sticks&gt;">' in page
        assert page.count('name="sites"') == 2 and WRONG not in page

    def test_what_was_kept_can_be_sent_by_whoever_signs_in_again(self, client, person):
        from tests.factories import make_machine

        machine = make_machine()
        url = reverse("inspections:fault_report", args=[machine.pk])
        page = client.post(url, {"title": "Flush sticks", "severity": "other"}).content.decode()
        kept = dict(re.findall(r'<input type="hidden" name="(\w+)" value="([^"]*)">', page))
        client.force_login(person)
        client.post(url, kept)
        assert machine.findings.get().title == "Flush sticks"

    def test_a_locked_account_is_out_with_its_next_request(self, client, person):
        client.force_login(person)
        Person.objects.update(is_active=False)
        assert client.get("/machines/").status_code == 302
