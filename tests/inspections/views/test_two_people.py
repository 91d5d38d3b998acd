"""Two people at one inspection: each is told of the other, and neither undoes what the other did."""

from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from inspections.actions import open_inspection
from inspections.models import Inspection, Reading
from tests.factories import NOON, TODAY, make_inspection, make_person
from tests.inspections.scenes import enter

PLACE = "full_pressure"


@pytest.fixture(autouse=True)
def noon(time_machine):
    time_machine.move_to(NOON, tick=False)


@pytest.fixture
def rui(scene, client):
    client.force_login(scene.other)
    return client


@pytest.fixture
def planner(db):
    person = make_person("planner", first_name="Maud", last_name="Lind")
    client = Client()
    client.force_login(person)
    client.person = person
    return client


def post(client, scene, value, *, kept, slot=PLACE):
    data = {"slot": slot, slot: value, f"{slot}:unit": "psi", f"{slot}:zero": "gauge", f"{slot}:kept": kept}
    return client.post(scene.url("reading_enter"), data, headers={"HX-Request": "true"})


def standing():
    return [str(reading) for reading in Reading.objects.current()]


def test_a_second_reading_entered_unseen_is_a_conflict_that_shows_both_with_name_and_time(rui, scene):
    first = scene.enter(PLACE, "50", unit="psi")
    answer = post(rui, scene, "52", kept="")
    assert (answer.status_code, answer["Bench-Answer"]) == (409, "contested")
    assert "Ana Ferro entered <b>50 psi</b> at 12:00; it is the current reading." in answer.text
    assert "Rui Serra entered <b>52 psi</b> at 12:00 without having seen the other entry." in answer.text
    assert 'data-shows="50"' in answer.text
    assert f'name="full_pressure:kept" value="{first.pk}"' in answer.text
    assert (standing(), Reading.objects.count()) == (["50 psi"], 2)


def test_both_find_the_two_readings_on_their_pages(rui, scene):
    scene.enter(PLACE, "50", unit="psi")
    post(rui, scene, "52", kept="")
    rui.force_login(scene.technician)
    page = rui.get(scene.step_url)
    assert "Use 52 psi" in page.text and "Keep 50 psi" in page.text


@pytest.mark.parametrize(("button", "stands"), [("stand", "52 psi"), ("drop", "50 psi")])
def test_the_choice_is_made_on_the_form_which_keeps_what_else_is_typed_on_it(rui, scene, button, stands):
    scene.enter(PLACE, "50", unit="psi")
    post(rui, scene, "52", kept="")
    contested = Reading.objects.contested().get()
    rui.post(scene.step_url, {button: contested.pk, "set_flow": "4", "set_flow:unit": "L/min", "set_flow:kept": ""})
    assert sorted(standing()) == sorted([stands, "4 L/min"])


def test_a_choice_that_was_made_already_is_told(rui, scene):
    scene.enter(PLACE, "50", unit="psi")
    post(rui, scene, "52", kept="")
    contested = Reading.objects.contested().get()
    rui.post(scene.step_url, {"stand": contested.pk})
    page = rui.post(scene.step_url, {"drop": contested.pk}, follow=True)
    assert "Somebody has already decided" in page.text
    assert standing() == ["52 psi"]


@pytest.mark.parametrize("sent", ["", "x", "999999"])
def test_a_choice_of_what_is_not_there_changes_nothing(rui, scene, sent):
    scene.enter(PLACE, "50", unit="psi")
    assert rui.post(scene.step_url, {"stand": sent, "drop": sent}).status_code == 302
    assert standing() == ["50 psi"]


def test_without_scripts_the_whole_form_is_shown_again_with_both(rui, scene):
    scene.enter(PLACE, "50", unit="psi")
    data = {PLACE: "52", f"{PLACE}:unit": "psi", f"{PLACE}:kept": "", "set_flow": "4", "set_flow:unit": "L/min"}
    page = rui.post(scene.step_url, data | {"then": "next"})
    assert page.status_code == 422
    assert "Use 52 psi" in page.text
    assert f'name="{PLACE}" value="50"' in page.text
    assert sorted(standing()) == ["4 L/min", "50 psi"]


def test_emptying_a_place_that_somebody_else_filled_takes_nothing_back_and_says_so(rui, scene):
    old = enter(scene.step(), PLACE, as_read="49", unit="psi", by=scene.other, at=NOON)
    scene.enter(PLACE, "50", unit="psi")
    answer = post(rui, scene, "", kept=old.pk)
    assert answer.status_code == 409
    assert "Ana Ferro has entered 50 psi here, so nothing was deleted" in answer.text
    assert standing() == ["50 psi"]


def test_a_page_names_who_else_is_at_the_bench_and_asks_again_now_and_then(rui, scene, time_machine):
    time_machine.move_to(NOON + timedelta(minutes=2), tick=False)
    assert "Also working on this inspection: <b>Ana Ferro</b>, 2 minutes ago" in rui.get(scene.step_url).text
    url = reverse("inspections:bench_others", args=[scene.inspection.pk])
    assert "<b>Ana Ferro</b>, 2 minutes ago" in rui.get(url).text
    rui.force_login(make_person("auditor"))
    assert rui.get(url).status_code == 403


def test_another_reason_for_not_testing_does_not_replace_the_first(rui, scene):
    url = scene.url("not_tested")
    rui.post(url, {"reason": "No nitrous oxide today"})
    page = rui.post(url, {"reason": "Regulator away"}, follow=True)
    assert "has already been marked as not tested: “No nitrous oxide today”" in page.text
    assert scene.step().not_tested_reason == "No nitrous oxide today"


def test_a_planner_who_moves_what_a_technician_has_opened_is_told_who_and_since_when(planner, scene):
    data = {"technician": scene.other.pk, "booked_on": TODAY, "seen": ""}
    page = planner.post(reverse("inspections:book", args=[scene.inspection.pk]), data)
    assert "Ana Ferro started it on 2 Nov 2026 at 12:00. No reading has been entered yet." in page.text
    assert Inspection.objects.get(pk=scene.inspection.pk).technician == scene.technician


def test_a_planner_who_voids_what_was_opened_meanwhile_is_asked_first(planner, scene):
    inspection = make_inspection(scene.machine, scene.procedure)
    url = reverse("inspections:void", args=[inspection.pk])
    assert "although_in_progress" not in planner.get(url).text
    open_inspection(inspection, by=scene.technician, at=NOON)
    page = planner.post(url, {"reason": "Machine is away"})
    assert "Ana Ferro started it" in page.text and 'name="although_in_progress"' in page.text
    assert Inspection.objects.get(pk=inspection.pk).stage == "on bench"
    planner.post(url, {"reason": "Machine is away", "although_in_progress": "on"})
    assert Inspection.objects.get(pk=inspection.pk).stage == "void"


def test_two_planners_do_not_move_one_inspection_over_each_other(planner, scene):
    inspection = make_inspection(scene.machine, scene.procedure)
    url = reverse("inspections:book", args=[inspection.pk])
    other = Client()
    other.force_login(make_person("planner", first_name="Ines", last_name="Dahl"))
    other.post(url, {"technician": scene.other.pk, "booked_on": TODAY, "seen": ""})
    data = {"technician": scene.technician.pk, "booked_on": TODAY + timedelta(days=1), "seen": ""}
    page = planner.post(url, data)
    assert "Ines Dahl booked Inspection" in page.text and "for Rui Serra on 2 Nov 2026" in page.text
    shown = Inspection.objects.get(pk=inspection.pk)
    assert shown.technician == scene.other
    assert f'name="seen" value="{shown.booked_at.isoformat()}"' in page.text
    planner.post(url, data | {"seen": shown.booked_at.isoformat()})
    assert Inspection.objects.get(pk=inspection.pk).technician == scene.technician


@pytest.mark.parametrize("seen", ["", "yesterday", "2026-11-02T11:00:00+00:00", "x" * 40])
def test_what_a_form_says_to_have_seen_wrongly_counts_as_not_seen(planner, scene, seen):
    inspection = make_inspection(scene.machine, scene.procedure)
    Inspection.objects.filter(pk=inspection.pk).update(
        stage="booked", technician=scene.other, booked_on=TODAY, booked_by=scene.other, booked_at=NOON
    )
    data = {"technician": scene.technician.pk, "booked_on": TODAY, "seen": seen}
    page = planner.post(reverse("inspections:book", args=[inspection.pk]), data)
    assert "while this page was open" in page.text
