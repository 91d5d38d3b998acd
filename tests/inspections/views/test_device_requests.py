"""Changes that a device keeps and sends: each is made once, whatever is lost, repeated or late on the way."""

import re
import uuid
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta

import pytest
from django.db import transaction
from django.test import Client, RequestFactory
from django.urls import get_resolver
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleet.web.device import KEY, PERSON, TYPED_AT
from inspections.chain.verification import verify_store
from inspections.models import DeviceAnswer, Inspection, NotTestedMark, Reading
from inspections.reports.record import write_record
from inspections.views.device_requests import ADDRESSES, ROUTES, typed_on_device
from tests.factories import NOON, make_person
from tests.inspections.records.test_signed_record import words_of

PLACES = ("full_pressure", "set_flow")
UNITS = {"full_pressure": "psi", "set_flow": "L/min"}


@pytest.fixture(autouse=True)
def noon(time_machine):
    time_machine.move_to(NOON, tick=False)


class Device:
    """What the service worker does with one change, as requests."""

    def __init__(self, scene, person):
        self.scene, self.client = scene, Client(raise_request_exception=False)
        self.client.force_login(person)
        self.mark = self.client.get(scene.step_url)[PERSON]

    def post(self, path, data, *, key=None, mark=None, **headers):
        sent = {"HX-Request": "true", KEY: str(key or uuid.uuid4()), PERSON: mark or self.mark, **headers}
        return self.client.post(path, data, headers=sent)

    def reading(self, place, text, *, kept=None, key=None, instrument="", **headers):
        settings = {f"{place}:unit": UNITS.get(place, ""), f"{place}:instrument": instrument}
        data = {"slot": place, place: text, **settings}
        data |= {} if kept is None else {f"{place}:kept": kept}
        return self.post(self.scene.url("reading_enter"), data, key=key, **headers)


@pytest.fixture
def device(scene):
    return Device(scene, scene.technician)


def stored(step):
    """Every reading of each place in the order saved, and the current one."""
    rows = Reading.objects.filter(step=step).order_by("pk")
    return {
        place: (
            [one.as_read for one in rows if one.field == place],
            [one.as_read for one in rows if one.field == place and one.superseded_at is None],
        )
        for place in PLACES
    }


def once_each(changes):
    """What each change once, in order, leaves behind, worked out without the program."""
    found = {}
    for place in PLACES:
        saved, current = [], []
        for text in [text for where, text in changes if where == place]:
            if text and [text] != current:
                saved.append(text)
            current = [text] if text else []
        found[place] = (saved, current)
    return found


# What happens to one attempt to send: it never arrives, the process is killed before the commit, the answer is lost.
MISHAPS = st.lists(st.sampled_from(["lost", "killed", "no answer"]), max_size=3)
CHANGES = st.lists(
    st.tuples(st.sampled_from(PLACES), st.sampled_from(["4", "5", "6", ""]), MISHAPS, st.integers(0, 9)),
    min_size=1,
    max_size=5,
)


class Killed(Exception):
    pass


@settings(max_examples=12, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(changes=CHANGES)
def test_any_mishaps_and_late_repeats_leave_what_each_change_once_in_order_leaves(changes, device, scene, monkeypatch):
    step = scene.step()
    with transaction.atomic():
        _send(changes, device, scene, monkeypatch)
        assert stored(step) == once_each([(place, text) for place, text, _, _ in changes])
        assert not Reading.objects.contested().exists()
        transaction.set_rollback(True)


def _send(changes, device, scene, monkeypatch):
    sent, seen = [], {}
    for place, text, mishaps, late in changes:
        change = {"place": place, "text": text, "kept": seen.get(place, ""), "key": uuid.uuid4()}
        for mishap in mishaps:
            if mishap == "killed":
                with killed_before_the_commit(monkeypatch):
                    device.reading(**change)
            elif mishap == "no answer":
                device.reading(**change)
        answer = device.reading(**change)
        assert answer["Bench-Answer"] == "kept"
        seen[place] = answer["Bench-Seen"]
        sent.append(change)
        if late < len(sent):  # a repeat of an earlier request that was held up on the way
            assert device.reading(**sent[late])["Bench-Answer"] == "kept"


@contextmanager
def killed_before_the_commit(monkeypatch):
    """Within the body a process ends when a change was made, and neither committed nor answered."""

    def made_and_killed(request, change):
        assert change().status_code == 200
        raise Killed

    with monkeypatch.context() as patch:
        patch.setattr("inspections.views.device_requests._with_answer", made_and_killed)
        yield


def test_a_process_killed_between_the_change_and_its_answer_leaves_neither_change_nor_key(device, scene, monkeypatch):
    with killed_before_the_commit(monkeypatch):
        assert device.reading("set_flow", "4").status_code == 500
    assert not Reading.objects.exists() and not DeviceAnswer.objects.exists()


def test_a_repeat_gets_the_first_answer_although_another_reading_came_between(device, scene):
    key = uuid.uuid4()
    first = device.reading("set_flow", "4", kept="", key=key)
    second = device.reading("set_flow", "5", kept=first["Bench-Seen"])
    again = device.reading("set_flow", "4", kept="", key=key)
    assert (again.status_code, again["Bench-Answer"], again["Bench-Seen"]) == (200, "kept", first["Bench-Seen"])
    assert stored(scene.step())["set_flow"] == (["4", "5"], ["5"]) and second["Bench-Seen"] != first["Bench-Seen"]


def test_a_contested_reading_sent_twice_is_stored_beside_the_other_once(device, scene):
    scene.enter("set_flow", "9", unit="L/min", by=scene.other)
    key = uuid.uuid4()
    answers = [device.reading("set_flow", "4", kept="", key=key) for _ in range(2)]
    assert [answer["Bench-Answer"] for answer in answers] == ["contested", "contested"]
    assert "Bench-Seen" not in answers[0]
    assert sorted(reading.as_read for reading in Reading.objects.all()) == ["4", "9"]


def test_a_refused_change_is_not_stored_and_may_be_accepted_later(device, scene):
    key = uuid.uuid4()
    assert device.reading("set_flow", "4,5,6", key=key)["Bench-Answer"] == "refused"
    assert not DeviceAnswer.objects.exists()
    assert device.reading("set_flow", "4", key=key)["Bench-Answer"] == "kept"


def test_what_another_person_typed_is_not_sent_in_the_name_of_who_is_signed_in(device, scene):
    other = Device(scene, scene.other)
    answer = other.reading("set_flow", "4", mark=device.mark)
    assert (answer.status_code, "Bench-Answer" in answer) == (401, False)
    assert other.mark != device.mark and not Reading.objects.exists()


def test_the_key_of_another_persons_change_is_refused_and_tells_nothing_of_it(device, scene):
    key = uuid.uuid4()
    first = device.reading("set_flow", "4", key=key)
    answer = Device(scene, scene.other).reading("set_flow", "5", key=key)
    assert (answer.status_code, answer["Bench-Answer"], "Bench-Seen" in answer) == (422, "refused", False)
    assert first["Bench-Answer"] == "kept" and stored(scene.step())["set_flow"][0] == ["4"]


@pytest.mark.parametrize("fate", ["signed", "voided", "deleted", "other step", "not allowed", "step gone"])
def test_a_change_that_comes_too_late_is_answered_for_good_with_a_sentence(device, scene, fate):
    """The device keeps what was typed and shows the sentence; without `Bench-Answer` it would send it for ever."""
    data, path = {"slot": "set_flow", "set_flow": "4", "set_flow:unit": "L/min"}, scene.url("reading_enter")
    if fate == "signed":
        scene.complete()
        scene.sign(at=NOON)
    elif fate == "voided":
        Inspection.objects.filter(pk=scene.inspection.pk).update(stage="void", void_reason="Wrong machine")
    elif fate == "deleted":
        scene.step().delete()
    elif fate == "other step":
        data = {"slot": "no_such_place", "no_such_place": "4"}
    elif fate == "not allowed":
        scene.technician.groups.clear()
    else:
        path = scene.url("not_tested")
        scene.inspection.steps.filter(code="supply-failure").update(applies=False, absence="Not fitted")
        data = {"reason": "No gas"}
    answer = device.post(path, data)
    word = "frozen" if fate in ("signed", "voided") else "refused"
    assert answer["Bench-Answer"] == word and 400 <= answer.status_code < 500
    expected = {
        "signed": "its readings are locked",
        "voided": "its readings are locked",
        "deleted": "the inspection was deleted",
        "other step": "no_such_place",
        "not allowed": "You may no longer change",
        "step gone": "This step is no longer there",
    }
    assert expected[fate] in answer.text


def test_a_form_that_a_page_without_scripts_would_send_is_made_once_and_says_where_to_go_on(device, scene):
    key = uuid.uuid4()
    answers = [device.post(scene.url("not_tested"), {"reason": "No gas", "then": "next"}, key=key) for _ in range(2)]
    for answer in answers:
        assert (answer.status_code, answer["Bench-Answer"]) == (200, "kept")
        assert answer["Bench-Location"] == scene.step("alarm").get_absolute_url()
    assert NotTestedMark.objects.count() == 1


def test_a_form_that_would_come_back_with_a_message_is_refused_with_that_message(device, scene):
    answer = device.post(scene.url("not_tested"), {"reason": "", "then": "next"})
    assert (answer.status_code, answer["Bench-Answer"]) == (409, "refused")
    assert "State why this step is not tested" in answer.text


def test_every_address_of_the_bench_that_changes_something_answers_keys_and_is_known_to_the_device(scene):
    patterns = [one for one in _patterns(get_resolver()) if str(one.pattern).startswith(ROUTES)]
    assert len(patterns) >= 4
    for one in patterns:
        assert one.callback.__code__.co_name == "answer", one
        example = "/" + re.sub(r"<int:\w+>", "7", str(one.pattern))
        assert any(re.match(address, example) for address in ADDRESSES)


def _patterns(resolver):
    for one in resolver.url_patterns:
        yield from _patterns(one) if hasattr(one, "url_patterns") else [one]


def test_without_a_key_the_bench_answers_as_before_and_stores_none(scene, client):
    client.force_login(scene.technician)
    data = {"slot": "set_flow", "set_flow": "4", "set_flow:unit": "L/min"}
    assert client.post(scene.url("reading_enter"), data)["Bench-Answer"] == "kept"
    assert not DeviceAnswer.objects.exists()


moments = st.integers(0, 10**15 - 1).map(str)


@given(text=moments | st.text(max_size=20) | st.integers(-7200, 7200).map(lambda s: str((1793880000 + s) * 1000)))
def test_a_typed_time_is_never_later_than_now_nor_earlier_than_the_start(text):
    """Whatever the clock of a device says."""
    inspection = Inspection(opened_at=NOON)
    now = NOON + timedelta(hours=1)
    request = RequestFactory().post("/", headers={TYPED_AT: text.encode("ascii", "ignore").decode()})
    typed = typed_on_device(request, inspection, now)
    assert typed is None or NOON <= typed <= now - timedelta(minutes=2)


def test_a_reading_says_on_page_and_paper_when_it_was_typed_if_that_was_long_before(
    device, scene, client, time_machine
):
    scene.complete()
    arrival = NOON + timedelta(minutes=30)
    time_machine.move_to(arrival, tick=False)
    client.force_login(scene.technician)

    def ms(minutes):
        return str(int((NOON + timedelta(minutes=minutes)).timestamp() * 1000))

    device.reading("set_flow", "4.1", instrument=scene.flowmeter.pk, **{TYPED_AT: ms(10)})
    device.reading("full_pressure", "51", instrument=scene.gauge.pk, **{TYPED_AT: ms(29)})
    flow, pressure = (Reading.objects.current().get(field=place) for place in ("set_flow", "full_pressure"))
    assert (flow.entered_at, flow.typed_at) == (arrival, datetime.fromtimestamp(int(ms(10)) / 1000, UTC))
    assert (pressure.entered_at, pressure.typed_at) == (arrival, None)
    signed = scene.sign(at=NOON + timedelta(hours=1))
    page = " ".join(client.get(signed.get_absolute_url()).text.split())
    paper = " ".join(words_of(write_record(signed, [])))
    said = "Typed on a device without a network, by the clock of the device: "
    for told in (page, paper):
        assert told.count(said) == 1
        assert "12:10" in told.split(said)[1][:120] and "12:30" in told.split(said)[1][:160]
    assert [one for one in verify_store() if one.kind != "time"] == []  # the clock of this test is set back
    Reading.objects.filter(pk=flow.pk).update(typed_at=None)
    assert any("typed_at" in str(trouble) for trouble in verify_store())


def test_keys_of_a_month_ago_are_removed_and_younger_ones_stay(db):
    from tests.config.test_pruning import prune

    person = make_person("technician")
    for days in (31, 29):
        fields = {"person": person, "key": uuid.uuid4(), "address": "/", "at": NOON - timedelta(days=days)}
        DeviceAnswer.objects.create(**fields)
    assert "1 answer to a device" in prune().result
    assert DeviceAnswer.objects.count() == 1
