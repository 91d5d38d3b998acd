"""What a passkey must sign, and how often: every other answer is refused and counted like a wrong password."""

import json
from datetime import timedelta
from importlib import import_module

import pytest
from axes.models import AccessAttempt
from django.conf import settings as site_settings
from django.test import Client, RequestFactory
from django.utils import timezone
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleet.forms.passkeys import PasskeyForm
from fleet.forms.passwords import PasswordForm, is_own_passkey
from fleet.models import Passkey, PasskeyChallenge
from fleet.people.passkeys import OPEN_CHALLENGES, act_of, is_offered, request_options
from fleet.people.personal_data import personal_data, removal_plan
from tests.factories import NOON, PASSWORD, make_person
from tests.passkeys import PRESENT, VERIFIED, Device, encode, give_passkey, send_with_passkey

PATH = "/inspections/7/sign/"
FORM = {"shown": "what the page showed", "reason": "Mended\r\nand tested"}


@pytest.fixture(autouse=True)
def noon(time_machine):
    time_machine.move_to(NOON, tick=False)


@pytest.fixture
def person(db):
    return make_person("technician", username="ana")


@pytest.fixture
def device(person):
    return give_passkey(person)


def new_session():
    session = import_module(site_settings.SESSION_ENGINE).SessionStore()
    session.create()
    return session


def request_of(person, session, fields=FORM, path=PATH, **extra):
    request = RequestFactory().post(path, fields, HTTP_HOST="localhost", **extra)
    request.user, request.session = person, session
    return request


def act(path=PATH, **fields):
    return act_of(path, {name: [value] for name, value in (FORM | fields).items()}.items())


@pytest.fixture
def session(db):
    return new_session()


@pytest.fixture
def options(person, device, session):
    return json.loads(request_options(request_of(person, session), act(), at=timezone.now()))


def is_accepted(person, session, answer, **other):
    return is_own_passkey(request_of(person, session, **other), answer)


def test_an_answer_for_this_form_is_accepted_once(person, device, session, options):
    answer = device.sign(options)
    assert is_accepted(person, session, answer)
    assert Passkey.objects.get().used_at == NOON
    assert not is_accepted(person, session, answer)
    again = json.loads(request_options(request_of(person, session), act(), at=NOON))
    assert is_accepted(person, session, device.sign(again))


def test_a_device_that_counts_nothing_is_accepted_again_and_again(person, session):
    device = give_passkey(person, Device(counts=False))
    for _ in range(3):
        options = json.loads(request_options(request_of(person, session), act(), at=NOON))
        assert is_accepted(person, session, device.sign(options))


WRONG = {
    "another origin": {"origin": "https://bobbin.example"},
    "plain http elsewhere": {"origin": "http://localhost.example"},
    "another port that nobody named": {"origin": "http://localhost:9999"},
    "from within a foreign page": {"crossOrigin": True},
    "another domain": {"rp": "example"},
    "a challenge that nobody made": {"challenge": encode(b"c" * 32)},
    "no challenge": {"challenge": ""},
    "a challenge that is no text": {"challenge": ["a"]},
    "nobody present": {"flags": VERIFIED},
    "the user not verified": {"flags": PRESENT},
    "an answer to the making of a key": {"kind": "webauthn.create"},
}


@pytest.mark.parametrize("wrong", WRONG.values(), ids=WRONG)
def test_a_wrong_answer_is_refused_and_counted(person, device, session, options, wrong):
    assert not is_accepted(person, session, device.sign(options, **wrong))
    assert AccessAttempt.objects.get().username == "signing: ana"
    assert Passkey.objects.get().used_at is None


@given(
    path=st.sampled_from([PATH, PATH.replace("7", "8"), "/findings/7/close/"]),
    name=st.sampled_from([*FORM, "more"]),
    value=st.sampled_from(["what the page showed", "something else", "", "Mended\nand tested"]),
)
@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
def test_an_answer_counts_for_the_form_that_it_was_asked_for_and_no_other(person, device, session, path, name, value):
    """Line ends do not matter: a script and a form may send them differently."""
    AccessAttempt.objects.all().delete()
    options = json.loads(request_options(request_of(person, session), act(), at=NOON))
    sent = FORM | {name: value}
    same = path == PATH and {k: v.replace("\r\n", "\n") for k, v in sent.items()} == {
        k: v.replace("\r\n", "\n") for k, v in FORM.items()
    }
    assert is_accepted(person, session, device.sign(options), path=path, fields=sent) == same


PARTS = ("clientDataJSON", "authenticatorData", "signature", "id", "rawId", "type")


@given(place=st.sampled_from(PARTS), where=st.floats(0, 0.99), how=st.sampled_from(["other", "cut", "none", "number"]))
@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
def test_no_answer_that_was_changed_anywhere_is_accepted(person, device, session, place, where, how):
    AccessAttempt.objects.all().delete()
    options = json.loads(request_options(request_of(person, session), act(), at=NOON))
    answer = json.loads(device.sign(options))
    holder = answer["response"] if place in answer["response"] else answer
    value = holder[place]
    position = int(where * (len(value) - 1))  # the last sign may hold bits that mean nothing
    other = "B" if value[position] == "A" else "A"
    changed = {"other": value[:position] + other + value[position + 1 :], "cut": value[:position]}
    holder[place] = {**changed, "none": None, "number": 7}[how]
    assert not is_accepted(person, session, json.dumps(answer))


@given(answer=st.one_of(st.text(), st.recursive(st.none() | st.integers() | st.text(), st.lists).map(json.dumps),
       st.dictionaries(st.sampled_from(["id", "rawId", "type", "response"]), st.text() | st.none()
                       | st.dictionaries(st.sampled_from(["clientDataJSON", "signature", "userHandle"]), st.text())
                       ).map(json.dumps)))  # fmt: skip
@settings(
    max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
def test_what_is_no_answer_at_all_is_refused(person, session, answer):
    AccessAttempt.objects.all().delete()
    assert not is_accepted(person, session, answer)


def test_nesting_without_end_and_length_without_end_are_refused(person, session):
    for answer in ("[" * 19_000, '{"response": {}, "id": "' + "A" * 10**6 + '"}'):
        assert not is_accepted(person, session, answer)


def test_the_passkey_of_another_person_is_refused(person, device, session, options):
    other = give_passkey(make_person("technician", username="rui"))
    assert not is_accepted(person, session, other.sign(options))


def test_a_challenge_of_another_person_or_session_is_refused(person, device, session, options):
    rui, elsewhere = make_person("technician", username="rui"), new_session()
    own = give_passkey(rui)
    assert not is_accepted(rui, session, own.sign(options))
    assert not is_accepted(person, elsewhere, device.sign(options))
    assert not is_accepted(person, session, device.sign(options))  # the attempt used it up


@pytest.mark.parametrize("seconds, accepted", [(299, True), (300, False), (86_400, False), (-1, False)])
def test_a_challenge_is_good_for_five_minutes(person, device, session, options, time_machine, seconds, accepted):
    time_machine.move_to(NOON + timedelta(seconds=seconds), tick=False)
    assert is_accepted(person, session, device.sign(options)) == accepted


@pytest.mark.parametrize("stored", [1, 2, 10**6])
def test_a_count_that_did_not_grow_is_refused(person, device, session, options, stored):
    """Two devices with one key, one of which was copied."""
    Passkey.objects.update(sign_count=stored)
    assert not is_accepted(person, session, device.sign(options))  # it says 1
    assert Passkey.objects.get().sign_count == stored


def test_a_device_that_names_another_account_is_refused(person, device, session, options):
    answer = json.loads(device.sign(options))
    answer["response"]["userHandle"] = encode(b"somebody else")
    assert not is_accepted(person, session, json.dumps(answer))


def test_a_removed_passkey_is_refused(person, device, session, options):
    Passkey.objects.all().delete()
    assert not is_accepted(person, session, device.sign(options))


def test_refused_passkeys_and_wrong_passwords_lock_together_and_a_right_one_resets_them(db):
    person = make_person(username="ana")
    device, client = give_passkey(person), Client()
    client.force_login(person)
    path, form = "/passkeys/add/", {"name": "Phone"}
    removal = "/second-factor/remove/"
    person.totpdevice_set.create(name="app", confirmed=True)
    for _ in range(2):
        assert client.post(removal, {"password": "wrong", "code": "1"}).status_code == 200
        assert send_with_passkey(client, removal, {"code": "1"}, device, flags=PRESENT).status_code == 200
    assert AccessAttempt.objects.get().failures_since_start == 4
    assert send_with_passkey(client, removal, {"code": "1"}, device).status_code == 200
    assert not AccessAttempt.objects.exists()
    for _ in range(5):
        last = send_with_passkey(client, removal, {"code": "1"}, device, flags=PRESENT)
    assert last.status_code == 429
    assert send_with_passkey(client, removal, {"code": "1"}, device).status_code == 429
    assert client.post(path, form | {"password": PASSWORD}).status_code == 429


def test_challenges_of_one_person_do_not_pile_up(person, device, session):
    for number in range(3 * OPEN_CHALLENGES):
        request_options(request_of(person, session), act(), at=NOON + timedelta(seconds=number))
    assert PasskeyChallenge.objects.count() == OPEN_CHALLENGES
    request_options(request_of(person, session), act(), at=NOON + timedelta(hours=1))
    assert PasskeyChallenge.objects.count() == 1


@pytest.mark.parametrize("host, domain, offered", [
    ("localhost:8000", "localhost", True), ("127.0.0.1:8000", "localhost", False), ("10.0.0.5", "10.0.0.5", False),
    ("bobbin.example", "bobbin.example", True), ("a.bobbin.example", "bobbin.example", True),
    ("xbobbin.example", "bobbin.example", False), ("example", "bobbin.example", False),
])  # fmt: skip
def test_passkeys_are_offered_at_their_domain_and_below_it_alone(settings, host, domain, offered):
    settings.ALLOWED_HOSTS, settings.PASSKEY_DOMAIN = ["*"], domain
    assert is_offered(RequestFactory().get("/", HTTP_HOST=host)) == offered


def all_below(kind):
    return {kind} | {one for child in kind.__subclasses__() for one in all_below(child)}


def test_every_form_that_asks_for_the_password_again_takes_a_passkey_but_that_which_registers_one():
    asking = all_below(PasswordForm)
    assert len(asking) > 10
    assert {form for form in asking if not form.takes_passkey} == {PasskeyForm}


def test_a_person_gets_their_passkeys_with_their_data_and_they_go_with_the_person(person, device):
    told = personal_data(person)["records"]["fleet.passkey.person"]
    assert [row["credential"] for row in told["rows"]] == [encode(device.credential)]
    assert ("Passkeys", 1) in [(line.words, line.count) for line in removal_plan(person).goes]
