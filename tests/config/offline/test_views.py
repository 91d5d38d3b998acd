"""What a device is told about who is signed in, and the script of the service worker."""

import json

import pytest
from django.urls import reverse

from config.offline.views import SCRIPTS
from fleet.web.device import PERSON, TIME
from tests.factories import make_person


@pytest.fixture
def ana(db):
    return make_person("technician", username="ana")


def test_the_worker_is_one_script_for_the_whole_site_that_is_always_asked_for_again(client, db):
    answer = client.get(reverse("service_worker"))
    assert (answer.status_code, answer["Content-Type"]) == (200, "text/javascript; charset=utf-8")
    assert answer["Cache-Control"] == "no-cache" and reverse("service_worker").count("/") == 1
    assert (
        "script-src 'self'" in answer["Content-Security-Policy"] and "connect-src" in answer["Content-Security-Policy"]
    )
    first, _, rest = answer.text.partition("\n")
    told = json.loads(first.removeprefix("const SETTINGS = ").removesuffix(";"))
    assert (told["device"], told["contact"]) == (reverse("device"), reverse("device_contact"))
    assert all(word in rest for word in ("const bobbinStore", "const outbox", "const pages", "addEventListener"))
    assert len(SCRIPTS) == 4


def test_a_device_is_told_who_is_signed_in_by_a_mark_that_names_nobody(client, ana):
    assert client.get(reverse("device_contact")).json() | {"time": 0} == {"person": "", "time": 0, "token": ""}
    client.force_login(ana)
    told = client.get(reverse("device_contact")).json()
    page = client.get("/")
    assert told["person"] == page[PERSON] and len(told["person"]) == 32 and told["token"]
    assert f'data-person="{told["person"]}"' in page.text and abs(int(page[TIME]) - told["time"]) < 60_000
    client.force_login(make_person("technician", username="rui"))
    assert client.get("/")[PERSON] != told["person"]


def test_the_mark_of_a_person_stays_over_sessions(client, ana):
    client.force_login(ana)
    first = client.get("/")[PERSON]
    client.logout()
    assert PERSON not in client.get(reverse("login"))
    client.force_login(ana)
    assert client.get("/")[PERSON] == first


def test_before_the_second_factor_is_given_a_device_is_told_nobody(client, ana, settings):
    settings.SECOND_FACTOR_GROUPS = ["technician"]
    client.force_login(ana)
    session = client.session
    session["second_factor"] = "ask"
    session.save()
    assert client.get(reverse("device_contact")).json()["person"] == ""
    assert PERSON not in client.get(reverse("second_factor_set_up"))


def test_asking_for_contact_does_not_extend_a_session(client, ana):
    client.force_login(ana)
    session = client.session
    session["seen"] = 1
    session.save()
    client.get(reverse("device_contact"))
    assert client.session["seen"] == 1
    client.get("/")
    assert client.session["seen"] > 1


def test_the_page_of_the_device_asks_to_sign_in_and_holds_nothing_itself(client, ana):
    assert client.get(reverse("device")).status_code == 302
    client.force_login(ana)
    page = client.get(reverse("device")).text
    assert "Nothing waits on this device." in page and "Could not be sent" in page
