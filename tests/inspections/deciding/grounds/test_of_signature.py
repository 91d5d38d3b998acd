"""What is signed is what the page showed: whatever changes in between, the old page's signature is refused."""

import json
from datetime import date, timedelta

import pytest
from django.urls import reverse
from hypothesis import given
from hypothesis import strategies as st

from fleet.actions import change_site, correct_machine, record_calibration
from fleet.models import Component, Instrument, InstrumentScale, MachineModel
from inspections.actions import (
    clear_reading,
    draft_signature,
    end_limit_override,
    set_limit_override,
    set_not_tested,
    settle_contest,
    sign_inspection,
)
from inspections.actions import signing as signing_module
from inspections.deciding.grounds import changes_between, digest_of_grounds, read_token, write_token
from inspections.errors import GroundsChanged
from inspections.models import Inspection, InspectionStep, SignedRecord
from tests.decisions import send, shown_on
from tests.factories import NOON, PASSWORD, TODAY, make_component, make_instrument, make_person
from tests.inspections.scenes import SHORT, enter, make_scene
from tests.inspections.test_two_at_once import at_once, refused

LATER = NOON + timedelta(hours=1)


@pytest.fixture(autouse=True)
def an_hour_later(time_machine):
    time_machine.move_to(LATER, tick=False)


@pytest.fixture
def ready(scene):
    """On the bench with everything that a signature needs, a limit of the site, and a part."""
    scene.complete()
    make_component(scene.machine, label="Regulator", gas="nitrous-oxide")
    scene.limit = limit_of(scene, site=scene.machine.site, lower=20.0)
    return scene


def limit_of(scene, **fields):
    return set_limit_override(
        **{
            "test_code": "supply-failure", "result_key": "trip_pressure", "unit": "psi", "reason": "Agreed locally",
            "source": "Service manual, section 7", "from_date": TODAY, "by": make_person("planner"), "at": NOON,
            **fields,
        }
    )  # fmt: skip


def reading(scene, as_read="51", **fields):
    values = {"unit": "psi", "instrument": scene.gauge, "by": scene.other, "at": LATER, **fields}
    return enter(scene.step(), "full_pressure", as_read=as_read, **values)


def contested(scene):
    return reading(scene, seen=None)


def settled(scene):
    settle_contest(contested(scene), stands=True, by=scene.other, at=LATER)


def another_gauge(scene):
    reading(scene, "50", instrument=make_instrument(site=scene.machine.site))


def another_step(scene):
    InspectionStep.objects.create(
        inspection=scene.inspection, position=9, code="more", title="One more step", test_code="observation",
        content={"item": "It is so."},
    )  # fmt: skip


def calibrated(scene):
    record_calibration(
        scene.gauge, calibrated_on=TODAY, due_on=date(2027, 11, 2), certificate="N-2", result="within", by=scene.other,
        at=LATER,
    )  # fmt: skip


def marked_by_another(scene):
    scene.leave_untested("flush", "")
    reason = "No flowmeter of that range today."
    set_not_tested(scene.step("flush"), reason=reason, by=scene.other, at=LATER)


def of_inspection(**fields):
    return lambda s: Inspection.objects.filter(pk=s.inspection.pk).update(**fields)


CHANGES = {
    "a reading corrected by a colleague": reading,
    "a reading taken back": lambda s: clear_reading(s.step(), "full_pressure", by=s.other, at=LATER),
    "a reading of a table corrected": lambda s: s.cell(
        2, "pressure", "26.5", unit="psi", instrument=s.gauge, at=LATER
    ),
    "a reading added to a table": lambda s: s.cell(5, "pressure", "15", unit="psi", instrument=s.gauge, at=LATER),
    "a reading in another unit": lambda s: reading(s, "50", unit="kPa"),
    "the same figure entered by somebody else": lambda s: (
        clear_reading(s.step(), "full_pressure", by=s.technician, at=LATER), reading(s, "50")
    ),
    "a reading contested": contested,
    "a contest settled": settled,
    "an observation answered otherwise": lambda s: s.enter("seen", "no", code="alarm", at=LATER),
    "another instrument": another_gauge,
    "no instrument": lambda s: reading(s, "50", instrument=None),
    "an instrument recalibrated": calibrated,
    "an instrument with other accuracy": lambda s: InstrumentScale.objects.filter(
        instrument=s.gauge, dimension="pressure"
    ).update(of_reading_percent=0.6),
    "an instrument renamed": lambda s: Instrument.objects.filter(pk=s.gauge.pk).update(serial="S-2"),
    "a limit added for the model": lambda s: limit_of(s, machine_model=s.machine.model, upper=99.0),
    "a limit added for the site": lambda s: limit_of(s, site=s.machine.site, lower=21.0),
    "a limit with another source": lambda s: limit_of(
        s, site=s.machine.site, lower=20.0, source="Service manual, section 8"
    ),
    "a limit ended": lambda s: end_limit_override(s.limit, until_date=TODAY, by=s.other, at=LATER),
    "the site's altitude": lambda s: change_site(s.machine.site, altitude_m=621, by=s.other, at=LATER),
    "the site's name": lambda s: change_site(s.machine.site, name="Elsewhere", by=s.other, at=LATER),
    "ambient pressure measured": of_inspection(ambient_kpa_abs=95.0),
    "the room's temperature": of_inspection(temperature_c=21.0),
    "a step left untested": lambda s: s.leave_untested("alarm", "Horn taken out."),
    "another reason for not testing": lambda s: (
        s.leave_untested("flush", ""), s.leave_untested("flush", "No time.")
    ),
    "a step tested after all": lambda s: s.leave_untested("flush", ""),
    "the same reason for not testing given by somebody else": marked_by_another,
    "a step added": another_step,
    "a step made essential": lambda s: s.inspection.steps.filter(code="alarm").update(is_essential=True),
    "the machine's year": lambda s: correct_machine(s.machine, built_year=1984, by=s.other, at=LATER),
    "the machine's serial number": lambda s: correct_machine(s.machine, serial="S-77", by=s.other, at=LATER),
    "the model's name": lambda s: MachineModel.objects.filter(pk=s.machine.model_id).update(name="Otherwise"),
}  # fmt: skip


def draft_of(scene):
    inspection = Inspection.objects.get(pk=scene.inspection.pk)
    return draft_signature(inspection, by=scene.technician, at=LATER)


def shown_of(scene):
    return json.loads(json.dumps(draft_of(scene).grounds))


def sign_url(scene):
    return reverse("inspections:sign", args=[scene.inspection.pk])


@pytest.mark.parametrize("change", CHANGES)
def test_the_old_page_signs_nothing_and_says_what_changed(client, ready, change):
    client.force_login(ready.technician)
    shown = shown_on(client.get(sign_url(ready)))
    before = shown_of(ready)
    CHANGES[change](ready)
    page = client.post(sign_url(ready), {"password": PASSWORD, "shown": shown})
    assert page.status_code == 409 and not SignedRecord.objects.exists()
    told = page.context["changes"]
    assert told and told == changes_between(before, shown_of(ready))
    assert "the data has changed since you opened the page" in page.text and '<th scope="col">Before</th>' in page.text


def test_a_reading_and_the_decision_that_follows_from_it_are_told_with_was_and_is(client, ready):
    client.force_login(ready.technician)
    shown = shown_on(client.get(sign_url(ready)))
    reading(ready, "62")
    told = client.post(sign_url(ready), {"password": PASSWORD, "shown": shown}).context["changes"]
    [line] = [one for one in told if one.what.startswith("Reading")]
    assert line.where == "Oxygen supply failure: nitrous oxide"
    assert line.was.startswith("50 psi gauge") and line.now.startswith("62 psi gauge")
    assert line.now.endswith("by Rui Serra")


def test_the_page_that_was_shown_again_signs_what_it_shows_now(client, ready):
    client.force_login(ready.technician)
    shown = shown_on(client.get(sign_url(ready)))
    reading(ready, "52")
    again = client.post(sign_url(ready), {"password": PASSWORD, "shown": shown})
    assert client.post(sign_url(ready), {"password": PASSWORD, "shown": shown_on(again)}).status_code == 302
    assert "52" in SignedRecord.objects.get().content


def test_a_change_is_told_even_when_the_password_was_wrong(client, ready):
    """The page that comes back carries what is so now, so it must say what is different from before."""
    client.force_login(ready.technician)
    shown = shown_on(client.get(sign_url(ready)))
    reading(ready, "62")
    page = client.post(sign_url(ready), {"password": "wrong", "shown": shown})
    assert page.status_code == 409 and any(one.now and one.now.startswith("62") for one in page.context["changes"])


@pytest.mark.parametrize("shown", ["", "nonsense", "eyJhIjoxfQ:1abc:def"])
def test_a_form_that_does_not_say_what_it_showed_signs_nothing(client, ready, shown):
    client.force_login(ready.technician)
    page = client.post(sign_url(ready), {"password": PASSWORD, "shown": shown})
    assert page.status_code == 409 and not SignedRecord.objects.exists()


def test_what_the_page_of_another_inspection_showed_does_not_count(client, ready):
    client.force_login(ready.technician)
    shown = write_token("sign 999", draft_of(ready).grounds)
    assert client.post(sign_url(ready), {"password": PASSWORD, "shown": shown}).status_code == 409


def test_unchanged_it_is_signed_and_the_record_is_what_was_shown(client, ready):
    client.force_login(ready.technician)
    content = draft_of(ready).content
    assert send(client, sign_url(ready), {"password": PASSWORD}).status_code == 302
    assert json.loads(SignedRecord.objects.get().content)["steps"] == json.loads(json.dumps(content["steps"]))


def test_what_changes_between_comparison_and_writing_is_not_in_the_record(ready, monkeypatch):
    """The record is written from what was compared, not from what is read once more."""
    shown, change_stage = draft_of(ready), signing_module.change_stage

    def meanwhile(inspection, *args, **kwargs):
        limit_of(ready, machine_model=ready.machine.model, lower=1.0, upper=99.0)
        MachineModel.objects.filter(pk=ready.machine.model_id).update(name="Otherwise")
        Component.objects.update(label="Other")
        ready.inspection.steps.update(not_tested_reason="Meanwhile")
        return change_stage(inspection, *args, **kwargs)

    monkeypatch.setattr(signing_module, "change_stage", meanwhile)
    inspection = Inspection.objects.get(pk=ready.inspection.pk)
    sign_inspection(inspection, by=ready.technician, at=LATER, shown=shown.grounds)
    content = json.loads(SignedRecord.objects.get().content)
    assert {**content, "signed_by": 0} == {**json.loads(json.dumps(shown.content)), "signed_by": 0}


def test_the_page_asks_as_many_queries_for_many_readings_as_for_few(
    client, scene, tmp_path, django_assert_max_num_queries
):
    client.force_login(scene.technician)
    scene.complete()
    counts = []
    many = make_scene(tmp_path, text=SHORT.replace("yearly", "longer") + MORE_STEPS)
    many.complete([(str(45 - row), "4.0" if row < 18 else "0.0") for row in range(30)])
    for one in (scene, many):
        client.force_login(one.technician)
        with django_assert_max_num_queries(40) as captured:
            client.get(sign_url(one))
        counts.append(len(captured))
    assert counts[0] == counts[1]


MORE_STEPS = "".join(
    f'[[step]]\ncode = "look-{n}"\ntitle = "Look {n}"\ntest = "observation"\nitem = "It is so."\nsource = "Manual"\n'
    for n in range(12)
)


class TestAtOnce:
    """Somebody changes it at the very moment of the signature: what was signed is what was shown, or nothing is."""

    @pytest.fixture
    def bench(self, transactional_db, tmp_path):
        scene = make_scene(tmp_path)
        scene.complete()
        scene.limit = limit_of(scene, site=scene.machine.site, lower=20.0)
        return scene

    @pytest.mark.parametrize(
        "change",
        ["a reading corrected by a colleague", "a limit added for the model", "a limit ended", "the site's altitude",
         "the machine's year", "an instrument recalibrated"],
    )  # fmt: skip
    def test_with_another_change(self, bench, change):
        draft = draft_of(bench)
        shown = json.loads(json.dumps(draft.content))

        def sign():
            inspection = Inspection.objects.get(pk=bench.inspection.pk)
            return sign_inspection(inspection, by=bench.technician, at=LATER, shown=draft.grounds)

        results = at_once(sign, lambda: CHANGES[change](bench))
        record = SignedRecord.objects.first()
        if record is None:
            assert isinstance(results[0], GroundsChanged) and results[0].changes
        else:
            content = json.loads(record.content)
            assert {name: content[name] for name in content if name != "signed_by"} == {
                name: shown[name] for name in shown if name != "signed_by"
            }

    def test_two_signatures_of_one_page(self, bench):
        shown = draft_of(bench).grounds

        def sign():
            inspection = Inspection.objects.get(pk=bench.inspection.pk)
            return sign_inspection(inspection, by=bench.technician, at=LATER, shown=shown)

        assert len(refused(at_once(sign, sign))) == 1 and SignedRecord.objects.count() == 1


GROUNDS = st.dictionaries(st.text(max_size=6), st.dictionaries(st.text(max_size=6), st.text(max_size=6), max_size=4),
                          max_size=4)  # fmt: skip


@given(grounds=GROUNDS)
def test_what_a_form_carries_comes_back_as_it_was_shown(grounds):
    token = write_token("sign 1", grounds)
    assert read_token(token, "sign 1") == grounds and changes_between(read_token(token, "sign 1"), grounds) == []
    assert read_token(token, "sign 2") is None
    assert read_token(token[:-1] + ("a" if token[-1] != "a" else "b"), "sign 1") is None


def without_empty(grounds):
    return {where: lines for where, lines in grounds.items() if lines}


@given(shown=GROUNDS, now=GROUNDS)
def test_two_descriptions_have_changes_exactly_when_they_differ(shown, now):
    changes = changes_between(shown, now)
    assert bool(changes) == (without_empty(shown) != without_empty(now))
    assert bool(changes) == (digest_of_grounds(without_empty(shown)) != digest_of_grounds(without_empty(now)))
    put_back = {(one.where, one.what): one.was for one in changes}
    assert all(
        shown.get(where, {}).get(what) == was for (where, what), was in put_back.items() if what != "Computed values"
    )
