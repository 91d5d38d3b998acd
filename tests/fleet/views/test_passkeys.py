"""Registering, naming and removing passkeys, and signing with one on the pages that ask for the password again."""

import json

import pytest
from axes.models import AccessAttempt
from django.urls import reverse
from django.utils import timezone

from fleet.acting.scope import acting, history
from fleet.actions import remove_passkey, remove_person, rename_passkey
from fleet.actions.passkeys import MOST_PASSKEYS
from fleet.changes import changes_of
from fleet.errors import PersonRefused
from fleet.models import JournalLink, Passkey
from inspections.chain.verification import verify_store
from tests.factories import NOON, PASSWORD, ask_for_token, make_person, make_site
from tests.matrix.addresses import all_addresses
from tests.matrix.scene import make_scene, person_of_every_group
from tests.passkeys import PRESENT, VERIFIED, Device, give_passkey, options_for, send_with_passkey

ADD = "/passkeys/add/"
NAMED = {"name": "Tablet of workshop 2"}


@pytest.fixture
def person(db):
    return make_person("technician", username="ana", first_name="Ana", last_name="Ferro")


@pytest.fixture
def at_work(person, client):
    client.force_login(person)
    return client


def register(client, device, *, named=NAMED, password=PASSWORD, **wrong):
    answer = device.create(options_for(client, ADD, named, "create"), **wrong)
    return client.post(ADD, {**named, "password": password, "passkey": answer}, HTTP_HOST="localhost", follow=True)


def test_a_device_is_registered_with_the_password_and_leaves_an_entry(at_work, person):
    page = register(at_work, Device())
    assert "The passkey “Tablet of workshop 2” is registered" in page.text
    assert Passkey.objects.get().person == person
    assert changes_of("person", person.pk).first().after == {"Passkey “Tablet of workshop 2”": "registered"}


@pytest.mark.parametrize("wrong", [
    {"password": "wrong"}, {"password": ""}, {"named": {"name": ""}}, {"origin": "https://bobbin.example"},
    {"flags": PRESENT}, {"flags": VERIFIED}, {"challenge": "AAAA"}, {"type": "webauthn.get"},
])  # fmt: skip
def test_a_wrong_registration_stores_nothing(at_work, wrong):
    assert register(at_work, Device(), **wrong).status_code == 422
    assert not Passkey.objects.exists()


def test_no_passkey_takes_the_place_of_the_password_where_another_is_registered(at_work, person):
    device = give_passkey(person)
    answer = send_with_passkey(at_work, ADD, NAMED, device)
    assert answer.status_code == 422 and Passkey.objects.count() == 1


def test_an_answer_for_another_name_or_sent_twice_is_refused(at_work):
    device = Device()
    answer = device.create(options_for(at_work, ADD, NAMED, "create"))
    sent = {"password": PASSWORD, "passkey": answer}
    assert at_work.post(ADD, {**sent, "name": "Another"}, HTTP_HOST="localhost").status_code == 422
    assert at_work.post(ADD, {**sent, **NAMED}, HTTP_HOST="localhost").status_code == 422  # used up
    assert not Passkey.objects.exists()


def test_one_device_one_name_and_no_more_than_the_most(at_work, person):
    device = Device()
    register(at_work, device)
    assert "registered already" in register(at_work, device, named={"name": "Phone"}).text
    assert "already have a passkey called" in register(at_work, Device()).text
    for _ in range(MOST_PASSKEYS - 1):
        give_passkey(person)
    with pytest.raises(PersonRefused, match="the most"):
        give_passkey(person)


def test_the_options_name_ones_own_devices_and_no_user_that_could_be_recognised(at_work, person):
    device = give_passkey(person)
    give_passkey(make_person(username="rui"))
    get, create = options_for(at_work, ADD, {}), options_for(at_work, ADD, {}, "create")
    assert len(get["allowCredentials"]) == len(create["excludeCredentials"]) == 1
    assert get["allowCredentials"][0]["id"] == json.loads(device.sign(get))["id"]
    assert get["userVerification"] == create["authenticatorSelection"]["userVerification"] == "required"
    assert get["rpId"] == create["rp"]["id"] == "localhost" and create["user"]["name"] == "ana"


def test_one_renames_and_removes_ones_own_and_no_other(at_work, person):
    give_passkey(person)
    give_passkey(make_person(username="rui"))
    own, other = Passkey.objects.order_by("pk")
    assert at_work.post(f"/passkeys/{own.pk}/rename/", {"name": "Phone"}).status_code == 302
    assert "Phone" in at_work.get("/passkeys/").text
    for page in ("rename", "remove"):
        assert at_work.post(f"/passkeys/{other.pk}/{page}/", {"name": "x"}).status_code == 404
    with pytest.raises(PersonRefused):
        rename_passkey(other, name="x", by=person, at=NOON)
    assert at_work.post(f"/passkeys/{own.pk}/remove/").status_code == 302
    assert list(Passkey.objects.all()) == [other]


def test_whoever_manages_accounts_removes_one_at_their_sites_alone(client, person):
    give_passkey(person)
    address = f"/people/passkeys/{Passkey.objects.get().pk}/remove/"
    for who, status in [
        (make_person("technician"), 403),
        (make_person("planner-in-chief", sites=[make_site()]), 404),
        (make_person("planner-in-chief"), 302),
    ]:
        client.force_login(who)
        assert client.post(address).status_code == status
    assert not Passkey.objects.exists()
    assert changes_of("person", person.pk).first().by == who


def test_the_page_of_a_person_lists_them(client, person):
    give_passkey(person)
    client.force_login(make_person("planner-in-chief"))
    assert str(Passkey.objects.get()) in client.get(person.get_absolute_url()).text


def test_they_go_with_a_person_who_is_removed(person):
    give_passkey(person)
    remove_person(person, by=make_person("planner-in-chief"), at=NOON)
    assert not Passkey.objects.exists()


@pytest.mark.real_journal
def test_the_journal_holds_what_was_registered_renamed_and_removed(db):
    with history(), acting("test"):
        person, now = make_person(username="ana"), timezone.now()
    links = JournalLink.objects.count()
    give_passkey(person, at=now)
    passkey = Passkey.objects.get()
    rename_passkey(passkey, name="Phone", by=person, at=now)
    Passkey.objects.update(sign_count=7, used_at=now)  # use is not journaled
    remove_passkey(passkey, by=person, at=now)
    assert JournalLink.objects.count() == links + 3
    assert [one for one in verify_store() if one.inspection is None] == []


def test_at_another_address_the_page_says_where_passkeys_work(at_work, person):
    give_passkey(person)
    page = at_work.get("/passkeys/", HTTP_HOST="127.0.0.1")
    assert "They belong to localhost" in page.text and 'href="/passkeys/add/"' not in page.text
    assert "data-passkey" not in at_work.get("/second-factor/remove/", HTTP_HOST="127.0.0.1", follow=True).text


def test_two_people_cannot_hold_one_credential(person):
    device = give_passkey(person)
    with pytest.raises(PersonRefused, match="registered already"):
        give_passkey(make_person(username="rui"), device)


def test_every_page_that_asks_for_the_password_again_takes_a_passkey_in_its_place(client, db):
    """Every address in a walk, as a person with every right; registering a passkey needs the password itself."""
    scene, person = make_scene(), person_of_every_group()
    device = give_passkey(person)
    token = ask_for_token(person, "technician", name="Logger")
    scene.values["tokens/"] = {"pk": token.pk}
    client.force_login(person)
    person.totpdevice_set.create(name="app", confirmed=True)  # one to remove, after this session began
    asking = {}
    pages = [one for one in all_addresses() if one.route.endswith("/") and not one.is_api and one.name != "logout"]
    for address in pages:
        path = reverse(address.name, kwargs=scene.values_of(address))
        page = client.get(path, HTTP_HOST="localhost")
        is_page = page.status_code == 200 and page["Content-Type"].startswith("text/html")
        if is_page and 'type="password" name="password"' in page.text:
            asking[address.name] = path, "data-passkey=" in page.text
    assert [name for name, (_, is_offered) in asking.items() if not is_offered] == ["fleet:passkey_add"]
    assert len(asking) > 8
    for path, is_offered in asking.values():
        answer = send_with_passkey(client, path, {}, device, flags=PRESENT)
        assert ("The passkey was not accepted" in answer.text or answer.status_code == 429) == is_offered, path
        AccessAttempt.objects.all().delete()
