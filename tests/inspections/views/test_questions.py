"""Questions about readings on the bench page, the page of a signature, the record and its paper."""

import json
from datetime import timedelta
from io import BytesIO

import pytest
from django.urls import reverse
from pypdf import PdfReader

from inspections.actions import confirm_reading, draft_signature, enter_meant
from inspections.chain.verification import verify_store
from inspections.models import Reading, ReadingQuestion
from inspections.records.signed_record import ShownRecord
from inspections.reports.record import write_record
from tests.factories import NOON, make_person, make_site

LATER = NOON + timedelta(days=30)
HTMX = {"HX-Request": "true"}


@pytest.fixture
def bench(scene, client, time_machine):
    """The technician at the second inspection of a machine, whose first one showed 50 psi (345 kPa) and 4.0 L/min."""
    time_machine.move_to(NOON, tick=False)  # whichever day it is: a clock that is set back later would be reported
    scene.complete()
    scene.sign()
    scene.again(at=LATER)
    time_machine.move_to(LATER, tick=False)
    client.force_login(scene.technician)
    return client


def type_in(client, scene, slot, value, **settings):
    data = {"slot": slot, slot: value} | {f"{slot}:{key}": text for key, text in settings.items()}
    return client.post(scene.url("reading_enter"), data, headers=HTMX)


def answer(client, text, question=None, **headers):
    question = question or ReadingQuestion.objects.get()
    url = reverse("inspections:question_answer", args=[question.pk])
    return client.post(url, {"answer": text.format(question.pk)}, headers=HTMX)


def test_the_question_comes_with_the_answer_to_the_reading_beside_its_field(bench, scene):
    page = type_in(bench, scene, "full_pressure", "50", unit="kPa").text
    told = page[page.index('id="told-full_pressure"') :]
    assert "50 psi last time. Did you mean 50 psi?" in told[: told.index("told-set_flow")]
    assert ">50 psi</button>" in told and ">50 kPa is right</button>" in told


def test_the_question_is_shown_again_when_the_page_is_loaded_and_names_its_row(bench, scene):
    type_in(bench, scene, "falling.1.pressure", "35", unit="kPa")
    page = bench.get(scene.step_url).text
    assert "Oxygen pressure, row 2: 35 kPa." in page and "Did you mean 35 psi?" in page


def test_one_press_corrects_and_says_what_the_field_shows_now(bench, scene):
    type_in(bench, scene, "full_pressure", "50", unit="kPa", instrument=scene.gauge.pk)
    response = answer(bench, "{}:0")
    current = Reading.objects.current().get(step=scene.step())
    assert (response.status_code, response["Bench-Answer"], response["Bench-Seen"]) == (200, "kept", str(current.pk))
    assert json.loads(response["Bench-Shows"]) == {"place": "full_pressure", "value": "50", "unit": "psi"}
    assert (str(current), current.instrument) == ("50 psi", scene.gauge)
    assert "Did you mean" not in response.text and "Did you mean" not in bench.get(scene.step_url).text


def test_is_right_is_kept_and_the_question_goes(bench, scene):
    type_in(bench, scene, "full_pressure", "50", unit="kPa")
    response = answer(bench, "{}:right")
    assert (response.status_code, response["Bench-Answer"]) == (200, "kept")
    assert ReadingQuestion.objects.get().answer == "right"
    assert "Did you mean" not in bench.get(scene.step_url).text
    assert [str(one) for one in Reading.objects.current().filter(step=scene.step())] == ["50 kPa"]


def test_an_answer_that_comes_too_late_shows_how_things_are(bench, scene):
    type_in(bench, scene, "full_pressure", "50", unit="kPa")
    question = ReadingQuestion.objects.get()
    type_in(bench, scene, "full_pressure", "51", unit="psi")
    response = answer(bench, "{}:0", question)
    assert json.loads(response["Bench-Shows"])["value"] == "51"
    assert [str(one) for one in Reading.objects.current().filter(step=scene.step())] == ["51 psi"]


@pytest.mark.parametrize("text", ["", "right", "{}:", "{}:7", "{}:-1", "{}:٠", "999999:right", "{}:0:0", "x" * 5000])
def test_an_answer_that_the_page_does_not_offer_is_refused(bench, scene, text):
    type_in(bench, scene, "full_pressure", "50", unit="kPa")
    assert answer(bench, text).status_code == 400
    assert ReadingQuestion.objects.get().is_open


def test_without_scripts_the_form_of_the_step_answers(bench, scene):
    type_in(bench, scene, "full_pressure", "50", unit="kPa")
    question = ReadingQuestion.objects.get()
    form = {"full_pressure": "50", "full_pressure:unit": "kPa", "full_pressure:kept": question.reading_id}
    response = bench.post(scene.step_url, {**form, "answer": f"{question.pk}:0"})
    assert (response.status_code, response.url) == (302, scene.step_url)
    assert [str(one) for one in Reading.objects.current().filter(step=scene.step())] == ["50 psi"]


@pytest.mark.parametrize("text", ["", "x", "1:right", "99999999999999:right", "{}:9", "٣:right"])
def test_a_form_with_an_answer_that_is_none_changes_nothing(bench, scene, text):
    type_in(bench, scene, "full_pressure", "50", unit="kPa")
    question = ReadingQuestion.objects.get()
    if text == "1:right" and question.pk == 1:
        text = "2:right"
    assert bench.post(scene.step_url, {"answer": text.format(question.pk)}).status_code == 302
    assert ReadingQuestion.objects.get().is_open


def test_an_inspection_signed_meanwhile_takes_no_answer_and_the_page_says_so(bench, scene):
    finish_with_question(scene)
    scene.sign(at=LATER)
    response = answer(bench, "{}:right")
    assert (response.status_code, response["Bench-Answer"]) == (409, "frozen")
    assert "readings are locked" in response.text


@pytest.mark.parametrize(("group", "status"), [("auditor", 403), ("planner", 403)])
def test_only_who_enters_readings_answers(bench, scene, client, group, status):
    type_in(bench, scene, "full_pressure", "50", unit="kPa")
    client.force_login(make_person(group))
    assert answer(client, "{}:right").status_code == status


def test_a_technician_of_another_site_does_not_find_it_and_get_is_no_answer(bench, scene, client):
    type_in(bench, scene, "full_pressure", "50", unit="kPa")
    assert client.get(reverse("inspections:question_answer", args=[1])).status_code == 405
    client.force_login(make_person("technician", sites=[make_site()]))
    assert answer(client, "{}:right").status_code == 404


def finish_with_question(scene):
    """Everything that a signature needs, with a question about the alarm pressure that nobody has answered."""
    scene.complete(at=LATER)
    scene.enter("alarm_pressure", "30", unit="kPa", instrument=scene.gauge, at=LATER)
    return ReadingQuestion.objects.get()


def test_the_page_of_a_signature_lists_what_is_not_answered_and_the_signature_is_possible(bench, scene):
    finish_with_question(scene)
    page = bench.get(reverse("inspections:sign", args=[scene.inspection.pk])).text
    assert "Questions not answered" in page and "Did you mean 30 psi" in page
    scene.sign(at=LATER)
    assert scene.inspection.is_signed


def test_an_answer_after_the_page_of_a_signature_was_shown_is_a_change_of_its_grounds(bench, scene):
    question = finish_with_question(scene)
    before = draft_signature(scene.inspection, by=scene.technician, at=LATER).grounds
    confirm_reading(question, by=scene.technician, at=LATER)
    assert draft_signature(scene.inspection, by=scene.technician, at=LATER).grounds != before


def pdf_words(content):
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(content)).pages).split())


ANSWERS = {
    "not answered": (lambda question, person: None, "Answer: not answered."),
    "right": (
        lambda question, person: confirm_reading(question, by=person, at=LATER), "Answer: 30 kPa is right, Rui Serra."
    ),
    "corrected": (
        lambda question, person: enter_meant(question, 0, by=person, at=LATER),
        "Answer: corrected to 30 psi, Rui Serra.",
    ),
}  # fmt: skip


@pytest.mark.parametrize("given", ANSWERS)
def test_question_and_answer_are_on_record_page_and_paper_and_in_the_chain(bench, scene, given):
    give, sentence = ANSWERS[given]
    give(finish_with_question(scene), scene.other)
    scene.sign(at=LATER)
    (content,) = next(step for step in ShownRecord(scene.inspection.record).content["steps"] if "questions" in step)[
        "questions"
    ]
    assert (content["field"], content["row"], content["column"]) == ("alarm_pressure", 0, "")
    assert content["asked"].startswith("Usually 140 to 280 kPa here. Did you mean 30 psi")
    assert bool(content["answer"]) == bool(content["by"]) == bool(content["at"]) == (given != "not answered")
    assert sentence in bench.get(scene.inspection.get_absolute_url()).text
    assert sentence in pdf_words(write_record(scene.inspection, []))
    assert list(verify_store()) == []


@pytest.mark.parametrize("change", [{"answer": "right"}, {"asked": "Nothing."}, {"alternatives": []}])
def test_a_question_altered_after_the_signature_is_found(bench, scene, change):
    question = finish_with_question(scene)
    confirm_reading(question, by=scene.other, at=LATER)
    scene.sign(at=LATER)
    if change == {"answer": "right"}:
        change = {"answer": "", "by": None, "at": None}
    ReadingQuestion.objects.update(**change)
    assert {trouble.kind for trouble in verify_store()} == {"altered"}


def test_a_question_removed_after_the_signature_is_found(bench, scene):
    finish_with_question(scene)
    scene.sign(at=LATER)
    ReadingQuestion.objects.all().delete()
    assert [trouble.kind for trouble in verify_store()] == ["removed"]
