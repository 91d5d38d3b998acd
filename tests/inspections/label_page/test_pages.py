"""The public page of a label: what it shows and what it takes, without a login."""

from datetime import timedelta

import pytest
import time_machine
from django.core import signing
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from config.controls import mark_of
from fleet.actions import retire_machine, return_machine_to_service, withdraw_machine
from fleet.models import Site, StatusChange
from inspections.actions import issue_label, replace_label, report_fault
from inspections.label_page.form_tokens import AGE, SALT
from inspections.models import FaultPhotograph, FaultReport, Finding, MachineLabel, UserCheck
from inspections.models.label_codes import ALPHABET, CODE_LENGTH, new_code, normalised
from tests.factories import NOON, make_person, make_signed_inspection
from tests.fleet.photographs.pictures import SECRET, archive, four_corners, turned
from tests.hostile.looking import look_at_page
from tests.hostile.payloads import PAYLOADS, SIGNS
from tests.inspections.label_page.conftest import label_of_new_machine
from tests.inspections.label_page.sending import CHECK, REPORT, check, fault, page, send, text_of, token_at

LATER = NOON + timedelta(days=1)
IN_TEST = settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])


def shown(address):
    response = Client().get(address)
    assert response.status_code == 200
    return text_of(response)


def withdraw(machine, reason="Worn"):
    withdraw_machine(machine, by=None, at=NOON, reason=reason)


def return_to_service(machine):
    return_machine_to_service(machine, by=None, at=LATER, reason="Mended", evidence="Retest")


def test_the_page_shows_number_standing_and_last_inspection_and_nothing_else_of_the_machine(site):
    label = label_of_new_machine(site, serial="SECRETSERIAL", note="secret note")
    machine, person = label.machine, make_person("technician", last_name="Secretname")
    make_signed_inspection(machine, by=person, at=NOON)
    report_fault(machine, title="Secret finding", severity="other", by=person, at=NOON)
    words = shown(page(label))
    for expected in (machine.asset_number, "In service", "2 Nov 2026", "ext. 4417", "Report a fault"):
        assert expected in words
    hidden = (machine.serial, machine.note, str(machine.model), site.name, machine.area.name, "Secret", "Yearly", "ISO")
    assert [text for text in hidden if text in words] == []


@pytest.mark.parametrize("what", ["withdrawn", "retired", "essential finding"])
def test_a_machine_that_must_not_be_used_says_so_in_words_and_shape_and_takes_no_check(label, what):
    machine = label.machine
    if what == "withdrawn":
        withdraw(machine)
    elif what == "retired":
        retire_machine(machine, by=None, at=NOON, reason="Old")
    else:
        report_fault(machine, title="Leaks", severity="essential", by=None, at=NOON)
    words = shown(page(label))
    assert "<h1>DO NOT USE</h1>" in words and "plate-bad" in words and "In service" not in words
    assert check(label) not in words and (fault(label) in words) == (what != "retired")
    assert send(check(label), CHECK, token="x").status_code in (409, 422)
    assert UserCheck.objects.count() == 0


def test_a_check_that_was_opened_before_the_withdrawal_is_refused_and_its_text_is_shown(label):
    token = token_at(check(label))
    withdraw(label.machine)
    answer = send(check(label), CHECK, token=token)
    assert answer.status_code == 409 and "must not be used" in text_of(answer) and "Ana Ruiz" in text_of(answer)
    assert not UserCheck.objects.exists()


@pytest.mark.parametrize("name", ["page", "fault", "check", "unknown", "dead", "done"])
def test_every_answer_is_kept_by_nobody_found_by_nobody_and_runs_nothing(label, name):
    dead = issue_label(label_of_new_machine(label.machine.site).machine, by=None, at=NOON)
    replace_label(dead.machine, reason="Lost", by=None, at=NOON)
    addresses = {
        "page": page(label), "fault": fault(label), "check": check(label), "unknown": f"/m/{'0' * 26}/",
        "dead": page(dead), "done": send(fault(label), REPORT)["Location"],
    }  # fmt: skip
    response = Client().get(addresses[name])
    assert "no-store" in response["Cache-Control"] and "noindex" in response["X-Robots-Tag"]
    assert response["Referrer-Policy"] == "no-referrer" and response["X-Frame-Options"] == "DENY"
    policy = response["Content-Security-Policy"]
    assert "default-src 'none'" in policy and "script-src 'none'" in policy and "unsafe" not in policy
    assert "form-action 'self'" in policy and "frame-ancestors 'none'" in policy
    assert not response.cookies and "<script" not in text_of(response)


def test_a_page_takes_a_fixed_number_of_queries_and_no_session(label, django_assert_num_queries):
    person = make_person("technician")
    for _ in range(3):
        make_signed_inspection(label.machine, by=person, at=NOON)
    shown(page(label))
    with django_assert_num_queries(5):
        shown(page(label))


@IN_TEST
@given(st.text(max_size=60))
def test_a_code_that_does_not_exist_gets_one_and_the_same_sentence(db, text):
    MachineLabel.objects.count()
    with time_machine.travel(NOON + timedelta(hours=hash(text) % 10_000)):  # each in a period of its own
        response = Client().get(f"/m/{text.replace('/', '-').replace('?', '-').replace('#', '-').strip('.') or '-'}/")
    assert response.status_code in (404, 400)
    assert response.status_code == 400 or "No machine has this code" in text_of(response)


@given(st.text(ALPHABET, min_size=CODE_LENGTH, max_size=CODE_LENGTH), st.randoms(use_true_random=False))
def test_a_code_that_is_typed_is_read_in_spite_of_case_hyphens_and_letters_that_look_alike(code, random):
    alike = {"0": "0Oo", "1": "1IiLl"}
    typed = "".join(
        random.choice(alike.get(sign, sign + sign.lower())) + random.choice(["", "-", " "]) for sign in code
    )
    assert normalised(typed) == code


def test_no_two_codes_are_alike_and_all_have_130_random_bits(label):
    codes = {new_code() for _ in range(500)}
    assert len(codes) == 500 and {len(code) for code in codes} == {26} and len(ALPHABET) == 32
    assert set("".join(codes)) == set(ALPHABET)


def test_the_code_of_a_replaced_label_says_that_it_is_no_longer_valid_and_shows_nothing(label):
    replace_label(label.machine, reason="Lost", by=None, at=LATER)
    for address in (page(label), fault(label), check(label)):
        response = Client().get(address)
        assert response.status_code == 410 and "no longer valid" in text_of(response)
        assert label.machine.asset_number not in text_of(response)
    new = MachineLabel.objects.in_force().get(machine=label.machine)
    assert new.code != label.code and label.machine.asset_number in shown(page(new))


def test_a_report_on_its_way_when_the_label_is_replaced_is_not_stored_but_shown(label):
    token = token_at(fault(label))
    replace_label(label.machine, reason="Lost", by=None, at=LATER)
    answer = send(fault(label), REPORT, token=token)
    assert answer.status_code == 410 and "Flow drops" in text_of(answer)
    assert not FaultReport.objects.exists()


def test_where_the_site_has_not_switched_it_on_the_code_leads_to_the_login_and_the_machine(label, client):
    Site.objects.update(has_label_page=False)
    for address in (page(label), fault(label), check(label)):
        assert Client().get(address)["Location"] == label.machine.get_absolute_url()
    assert Client().get(page(label), follow=True).redirect_chain[-1][0].startswith("/login/?next=/machines/")
    client.force_login(make_person("auditor"))
    assert client.get(page(label), follow=True).status_code == 200
    answer = send(fault(label), REPORT, token="x")
    assert answer.status_code == 410 and "Flow drops" in text_of(answer) and not FaultReport.objects.exists()


def test_a_new_site_has_the_page_switched_off(db):
    assert Site._meta.get_field("has_label_page").default is False


def test_a_fault_is_reported_with_three_fields_and_gets_a_number(label):
    answer = send(fault(label), REPORT)
    report = FaultReport.objects.get()
    assert (report.what, report.where, report.who, report.state) == ("Flow drops", "Theatre 2", "Ana Ruiz", "waiting")
    thanks = shown(answer["Location"])
    for words in ("Thank you", report.number, "Stop using the machine, tag it, and call", "ext. 4417"):
        assert words in thanks


@pytest.mark.parametrize("payload", PAYLOADS, ids=lambda payload: payload.name)
def test_no_text_of_a_report_acts_changes_the_machine_or_opens_a_finding(label, payload, client):
    text = "".join(sign for sign in payload.text if sign not in SIGNS)
    answer = send(fault(label), {"what": text[:2000], "where": text[:200], "who": text[:120]})
    assert answer.status_code == 302
    look_at_page(shown(answer["Location"]), "")
    report = FaultReport.objects.get()
    planner = make_person("planner")
    client.force_login(planner)
    for address in (report.get_absolute_url(), "/fault-reports/", "/", label.machine.get_absolute_url()):
        look_at_page(text_of(client.get(address)), mark_of(planner))
    label.machine.refresh_from_db()
    assert (label.machine.status, StatusChange.objects.filter(machine=label.machine).count()) == ("in service", 1)
    assert not Finding.objects.exists()
    assert "In service" in shown(page(label))


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"what": ""}, "Say in a few words what happened"),
        ({"where": "  "}, "Say where the machine is now"),
        ({"who": ""}, "Enter your name"),
        ({"what": "x" * 2001}, "at most 2000 characters"),
        ({"where": "x" * 201}, "at most 200 characters"),
        ({"what": "a\x0bb"}, "U+000B (vertical tab)"),
        ({"who": "a\u202eb"}, "direction override"),
    ],
)
def test_what_is_missing_too_long_or_unprintable_is_said_and_the_rest_stays(label, changed, says):
    answer = send(fault(label), REPORT | changed)
    assert answer.status_code == 422 and says in text_of(answer)
    assert all(value in text_of(answer) for name, value in REPORT.items() if name not in changed)
    assert not FaultReport.objects.exists()


def test_the_same_form_sent_again_is_one_report_and_another_text_another_one(label):
    token = token_at(fault(label))
    first, again = (send(fault(label), REPORT, token=token) for _ in range(2))
    number = FaultReport.objects.get().number
    assert number in shown(first["Location"]) and number in shown(again["Location"])
    send(fault(label), REPORT | {"what": "Flow drops when the ventilator starts"}, token=token)
    assert FaultReport.objects.count() == 2


def test_the_same_check_sent_again_is_one_check(label):
    token = token_at(check(label))
    for _ in range(3):
        assert send(check(label), CHECK, token=token).status_code == 302
    assert UserCheck.objects.count() == 1


def foreign_tokens(label):
    other = label_of_new_machine(label.machine.site)
    return {
        "of another machine": token_at(fault(other)),
        "of another kind": token_at(check(label)),
        "altered": f"x{token_at(fault(label))}",
        "of no form": "",
        "signed for something else": signing.dumps([label.pk, "fault", "x"], salt=f"{SALT}.receipt"),
        "of another shape": signing.dumps("x", salt=SALT),
    }


def test_a_form_of_another_label_or_kind_is_not_stored_and_can_be_sent_again(label):
    for name, token in foreign_tokens(label).items():
        answer = send(fault(label), REPORT, token=token)
        assert answer.status_code == 422 and "Nothing was sent yet" in text_of(answer), name
        assert "Flow drops" in text_of(answer)
    assert not FaultReport.objects.exists()


def test_a_form_that_was_open_too_long_is_shown_again_with_its_text(label):
    with time_machine.travel(LATER, tick=False):
        token = token_at(fault(label))
    with time_machine.travel(LATER + timedelta(seconds=AGE + 2), tick=False):
        assert send(fault(label), REPORT, token=token).status_code == 422
        assert send(fault(label), REPORT).status_code == 302


def test_a_receipt_is_shown_at_its_own_label_alone(label):
    address = send(fault(label), REPORT)["Location"]
    other = label_of_new_machine(label.machine.site)
    assert Client().get(address.replace(label.code, other.code)).status_code == 404
    assert Client().get(f"{page(label)}done/nothing/").status_code == 404


def test_a_daily_check_names_person_list_and_time(label):
    with time_machine.travel(NOON, tick=False):
        done = shown(send(check(label), CHECK)["Location"])
    stored = UserCheck.objects.get()
    assert (stored.kind, stored.by_name, stored.check_list, stored.result, stored.at) == (
        "daily", "Ana Ruiz", "our list", "done", NOON,
    )  # fmt: skip
    assert all(words in done for words in ("Ana Ruiz", "our list", "2 Nov 2026", "12:00"))


def test_the_check_list_is_that_of_the_site_or_the_manufacturers(label):
    assert "manufacturer&#x27;s daily check list" in shown(check(label))
    Site.objects.update(check_list="Form 12, daily check")
    assert "Form 12, daily check" in shown(check(label))


def test_a_problem_is_recorded_and_leads_into_the_fault_report_with_its_text(label):
    answer = send(check(label), CHECK | {"result": "problem", "note": "APL valve sticks"})
    words = text_of(answer)
    assert answer.status_code == 200 and UserCheck.objects.get().note == "APL valve sticks"
    assert (
        "APL valve sticks</textarea>" in words and 'value="Ana Ruiz"' in words and f'action="{fault(label)}"' in words
    )
    token = words.partition('name="ticket" value="')[2].partition('"')[0]
    assert send(fault(label), REPORT, token=token).status_code == 302
    assert send(check(label), CHECK | {"result": "problem"}).status_code == 422


def test_a_kind_of_check_that_does_not_exist_is_no_page(label):
    assert Client().get(check(label, "weekly")).status_code == 404


def is_offered_first(label):
    return "Record the first-user check" in shown(page(label))


def test_the_first_user_check_is_offered_first_from_each_service_until_it_is_recorded(label):
    """Source: AAGBI, Checking Anaesthetic Equipment 2012, summary: the first user's check after service is recorded."""
    machine, person = label.machine, make_person("technician")
    assert not is_offered_first(label)
    make_signed_inspection(machine, by=person, at=NOON)
    assert is_offered_first(label)
    record(label, NOON + timedelta(hours=1))
    assert not is_offered_first(label)
    withdraw(machine)
    assert not is_offered_first(label)
    return_to_service(machine)
    assert is_offered_first(label)
    record(label, LATER + timedelta(hours=1), kind="daily")
    record(label, LATER + timedelta(hours=1), result="problem", note="Sticks")
    assert is_offered_first(label)
    record(label, LATER + timedelta(hours=2))
    assert not is_offered_first(label)


def test_a_status_that_was_entered_later_for_an_earlier_day_is_no_return_of_today(label):
    machine = label.machine
    make_signed_inspection(machine, by=make_person("technician"), at=NOON)
    record(label, NOON + timedelta(hours=1))
    fields = {"machine": machine, "reason": "From the register", "recorded_at": LATER}
    StatusChange.objects.create(status="withdrawn", changed_on=NOON.date() - timedelta(days=9), **fields)
    StatusChange.objects.create(status="in service", changed_on=NOON.date() - timedelta(days=8), **fields)
    assert not is_offered_first(label)


def record(label, at, kind="first-user", **fields):
    with time_machine.travel(at, tick=False):
        assert send(check(label, kind), CHECK | fields).status_code in (200, 302)


def test_a_photograph_is_stored_clean_and_shown_to_those_who_read_findings(label, client):
    answer = post_photograph(label, turned(6, "JPEG", four_corners(900, 600)))
    assert answer.status_code == 302
    stored = FaultPhotograph.objects.get()
    assert stored.is_intact and (stored.width, stored.height) == (900, 600)
    assert SECRET not in bytes(stored.content)
    address = f"/fault-reports/{stored.pk}/photograph.jpg"
    assert Client().get(address).status_code == 302
    client.force_login(make_person("auditor"))
    assert client.get(address).content == bytes(stored.content)
    FaultPhotograph.objects.update(content=b"\xff\xd8\xff another")
    assert client.get(address).status_code == 404


def post_photograph(label, content, name="fault.jpg", **environ):
    return send(fault(label), REPORT | {"photograph": SimpleUploadedFile(name, content, "image/jpeg")}, **environ)


@pytest.mark.parametrize("content", [b"", b"no picture", archive(), b"%PDF-1.7", b"<svg onload=alert(1)>"])
def test_a_photograph_that_is_none_is_refused_with_a_sentence_and_the_text_stays(label, content):
    answer = post_photograph(label, content)
    assert answer.status_code == 422 and "Accepted: a photograph as JPEG" in text_of(answer)
    assert "Flow drops" in text_of(answer)
    assert not FaultReport.objects.exists() and not FaultPhotograph.objects.exists()
