"""How much one network address and one machine may send, and what is said beyond that."""

from datetime import timedelta
from unittest import mock

import pytest
import time_machine
from django.core.cache import cache
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client, override_settings
from hypothesis import given
from hypothesis import strategies as st
from redis.exceptions import ConnectionError as RedisDown

from fleet.web.client_address import client_address
from inspections.actions import dismiss_report, report_from_label
from inspections.actions.labels import CHECKS_AN_HOUR, MOST_WAITING, REPORTS_AN_HOUR
from inspections.label_page import rate_limits
from inspections.models import FaultReport, Finding, UserCheck
from tests.factories import NOON
from tests.inspections.label_page.conftest import label_of_new_machine
from tests.inspections.label_page.sending import CHECK, REPORT, check, fault, page, send, text_of, token_at


@pytest.fixture(autouse=True)
def at_noon():
    with time_machine.travel(NOON, tick=False) as traveller:
        yield traveller


def from_address(number):
    return {"REMOTE_ADDR": f"10.0.{number // 256}.{number % 256}"}


def says_when_and_whom(answer, *, phone="ext. 4417"):
    assert answer.status_code == 429 and int(answer["Retry-After"]) > 0
    assert "Try again in " in text_of(answer) and phone in text_of(answer)
    return int(answer["Retry-After"])


def test_thousands_of_reports_from_one_address_store_a_few_and_lose_no_text(site, at_noon):
    labels = [label_of_new_machine(site) for _ in range(10)]
    tokens = [token_at(fault(label)) for label in labels]
    statuses = []
    for number in range(300):
        at = number % 10
        answer = send(fault(labels[at]), REPORT | {"what": f"Fault {number}"}, token=tokens[at])
        statuses.append(answer.status_code)
    assert FaultReport.objects.count() == rate_limits.REPORTS.most == statuses.count(302)
    assert statuses.count(429) == 300 - rate_limits.REPORTS.most and not Finding.objects.exists()
    assert f"Fault {number}" in text_of(answer)
    wait = says_when_and_whom(answer)
    at_noon.shift(timedelta(hours=1))
    assert wait <= rate_limits.SENT.seconds
    assert send(fault(labels[0]), REPORT).status_code == 302


def test_one_machine_takes_few_reports_an_hour_from_however_many_addresses(label, at_noon):
    answers = [send(fault(label), REPORT | {"what": f"Fault {number}"}, **from_address(number)) for number in range(30)]
    assert FaultReport.objects.count() == REPORTS_AN_HOUR
    assert says_when_and_whom(answers[-1]) <= 3600 and "Fault 29" in text_of(answers[-1])
    other = label_of_new_machine(label.machine.site)
    assert send(fault(other), REPORT).status_code == 302
    at_noon.shift(timedelta(hours=1, seconds=1))
    assert send(fault(label), REPORT).status_code == 302


def test_reports_that_wait_are_bounded_until_somebody_deals_with_them(label, at_noon):
    for number in range(MOST_WAITING):
        report_from_label(label, **REPORT, key=str(number), at=NOON - timedelta(days=MOST_WAITING - number))
    answer = send(fault(label), REPORT)
    assert answer.status_code == 429 and "wait already" in text_of(answer) and "ext. 4417" in text_of(answer)
    assert FaultReport.objects.count() == MOST_WAITING
    dismiss_report(FaultReport.objects.first(), reason="Known", by=None, at=NOON)
    assert send(fault(label), REPORT).status_code == 302


def test_one_machine_takes_a_dozen_checks_an_hour(label):
    answers = [
        send(check(label), CHECK | {"by_name": f"Person {number}"}, **from_address(number)) for number in range(20)
    ]
    assert UserCheck.objects.count() == CHECKS_AN_HOUR
    says_when_and_whom(answers[-1])


def test_a_repeated_form_is_not_refused_by_the_limit_of_its_machine(label):
    token = token_at(fault(label))
    send(fault(label), REPORT, token=token)
    for number in range(REPORTS_AN_HOUR):
        send(fault(label), REPORT | {"what": f"Fault {number}"}, **from_address(number))
    assert send(fault(label), REPORT, token=token).status_code == 302


def test_guessing_codes_is_stopped_for_the_address_that_guesses(label, at_noon):
    guesses = [Client().get(f"/m/{number:026}/") for number in range(rate_limits.UNKNOWN.most + 20)]
    assert [guess.status_code for guess in guesses].count(404) == rate_limits.UNKNOWN.most
    says_when_and_whom(guesses[-1], phone="call the hospital's operator")
    refused = Client().get(page(label))
    assert refused.status_code == 429 and label.machine.asset_number not in text_of(refused)
    assert Client().get(page(label), **from_address(1)).status_code == 200
    at_noon.shift(timedelta(seconds=rate_limits.UNKNOWN.seconds))
    assert Client().get(page(label)).status_code == 200


def test_a_code_that_was_replaced_or_switched_off_does_not_count_as_a_guess(label):
    type(label.machine.site).objects.update(has_label_page=False)
    answers = {Client().get(page(label)).status_code for _ in range(rate_limits.UNKNOWN.most + 5)}
    assert answers == {302}


def test_looking_is_limited_too(label):
    with (
        mock.patch.object(rate_limits, "PAGES", None),
        mock.patch("inspections.label_page.answering.PAGES", rate_limits.Limit("pages", 5, 600)),
    ):
        answers = [Client().get(page(label)) for _ in range(7)]
    assert [answer.status_code for answer in answers] == [200] * 5 + [429] * 2
    says_when_and_whom(answers[-1])


def test_no_picture_is_decoded_beyond_the_limit(label):
    cleaned = mock.Mock(side_effect=AssertionError)
    for _ in range(rate_limits.REPORTS.most):
        rate_limits.count(rate_limits.REPORTS, "127.0.0.1")
    picture = SimpleUploadedFile("fault.jpg", b"\xff\xd8\xff", "image/jpeg")
    with mock.patch("inspections.views.label_page.clean_photograph", cleaned):
        assert send(fault(label), REPORT | {"photograph": picture}).status_code == 429
    assert not cleaned.called


def test_a_cache_that_is_down_stops_nobody_and_the_limit_of_the_machine_holds(label):
    for name in ("add", "get", "incr"):
        mock.patch.object(cache, name, side_effect=RedisDown).start()
    try:
        answers = [send(fault(label), REPORT | {"what": f"Fault {number}"}).status_code for number in range(9)]
    finally:
        mock.patch.stopall()
    assert answers == [302] * REPORTS_AN_HOUR + [429] * 3


def test_an_entry_that_the_cache_dropped_meanwhile_counts_as_one():
    with mock.patch.object(cache, "incr", side_effect=ValueError):
        assert rate_limits.count(rate_limits.PAGES, "10.0.0.1") == 0


@pytest.mark.redis
def test_redis_counts_for_all_processes(redis_url, settings):
    settings.CACHES = {"default": {"BACKEND": "django.core.cache.backends.redis.RedisCache", "LOCATION": redis_url}}
    limit = rate_limits.Limit("x", 3, 600)
    assert [bool(rate_limits.count(limit, "10.0.0.9")) for _ in range(5)] == [False] * 3 + [True] * 2
    assert rate_limits.exhausted(limit, "10.0.0.9") and not rate_limits.exhausted(limit, "10.0.0.8")


TEXT = st.text(st.characters(exclude_characters="\r\n,"), max_size=40)


@given(st.lists(TEXT, max_size=4))
def test_what_a_client_writes_into_the_header_does_not_change_its_address(sent):
    with override_settings(TRUSTED_PROXY=True):
        assert client_address("172.18.0.1", ", ".join([*sent, "203.0.113.7"])) == "203.0.113.7"
    with override_settings(TRUSTED_PROXY=False):
        assert client_address("203.0.113.7", ", ".join(sent)) == "203.0.113.7"


@given(TEXT)
def test_a_header_that_names_no_address_falls_back_to_the_connection(text):
    with override_settings(TRUSTED_PROXY=True):
        assert client_address("203.0.113.7", f"x{text}") == "203.0.113.7"


def test_one_household_of_ipv6_is_one_address(settings):
    settings.TRUSTED_PROXY = False
    same = {client_address(f"2001:db8:1:2::{number:x}", "") for number in range(20)}
    assert same == {"2001:db8:1:2::/64"}
    assert client_address("2001:db8:1:3::1", "") not in same
    assert client_address("::ffff:203.0.113.7", "") == "203.0.113.7"


def test_a_proxy_that_is_trusted_tells_clients_apart(label, settings):
    settings.TRUSTED_PROXY = True
    for _ in range(rate_limits.UNKNOWN.most):
        Client().get("/m/x/", headers={"X-Forwarded-For": "198.51.100.1, 203.0.113.7"})
    for forwarded, status in (("198.51.100.2, 203.0.113.7", 429), ("203.0.113.7, 203.0.113.8", 200)):
        assert Client().get(page(label), headers={"X-Forwarded-For": forwarded}).status_code == status
