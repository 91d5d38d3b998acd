"""Questions about readings: when one is asked, and what becomes of it."""

from datetime import timedelta

import pytest

from inspections.actions import clear_reading, confirm_reading, enter_meant
from inspections.at_bench.open_questions import open_questions_of
from inspections.errors import QuestionSettled, RecordFrozen
from inspections.models import Reading, ReadingQuestion
from tests.factories import NOON, make_machine
from tests.inspections.scenes import Scene, enter

LATER = NOON + timedelta(days=30)  # within the calibrations of the factories
SOON = LATER + timedelta(minutes=5)
# A pipeline of 52 psi is 358 kPa: 52 x 6.894757 (NIST SP 811, B.8).
LAST = {"as_read": "358", "unit": "kPa"}


@pytest.fixture
def again(scene):
    """The second inspection of a machine whose pipeline showed 358 kPa at the first, with 4 L/min set."""
    scene.enter("full_pressure", LAST["as_read"], unit=LAST["unit"], instrument=scene.gauge)
    scene.enter("set_flow", "4.0", unit="L/min", instrument=scene.flowmeter)
    for row, (pressure, flow) in enumerate((("45", "4.0"), ("35", "4.0"), ("26", "3.6"), ("24", "0.4"), ("20", "0.0"))):
        scene.cell(row, "pressure", pressure, unit="psi", instrument=scene.gauge)
        scene.cell(row, "flow", flow, unit="L/min", instrument=scene.flowmeter)
    scene.rise()
    scene.enter("seen", "yes", code="alarm")
    scene.leave_untested("flush", "No flowmeter of that range today.")
    scene.sign()
    scene.again(at=LATER)
    return scene


def read(scene, as_read, unit, *, field="full_pressure", by=None, at=LATER, **place):
    return enter(scene.step(), field, as_read=as_read, unit=unit, by=by or scene.technician, at=at, **place)


def asked():
    return ReadingQuestion.objects.get()


def test_another_unit_is_asked_about_with_what_was_read_last_time(again):
    read(again, "52", "kPa")
    assert asked().asked == "358 kPa last time. Did you mean 52 psi?"
    assert asked().alternatives == [{"as_read": "52", "unit": "psi"}]
    assert asked().is_open


@pytest.mark.parametrize(("typed", "meant"), [("35.8", "358"), ("3580", "358"), ("35800", "358")])
def test_a_shifted_point_is_asked_about(again, typed, meant):
    read(again, typed, "kPa")
    assert {"as_read": meant, "unit": "kPa"} in asked().alternatives


def test_swapped_digits_are_asked_about(again):
    read(again, "538", "kPa")
    assert asked().alternatives == [{"as_read": "358", "unit": "kPa"}]


@pytest.mark.parametrize(
    ("as_read", "unit"), [("358", "kPa"), ("52", "psi"), ("3.6", "bar"), ("350", "kPa"), ("55", "psi")]
)
def test_what_is_like_last_time_in_any_unit_is_not_asked_about(again, as_read, unit):
    read(again, as_read, unit)
    assert not ReadingQuestion.objects.exists()


def test_one_press_enters_what_was_meant_with_the_same_gauge(again):
    typed = read(again, "52", "kPa", instrument=again.gauge)
    entered = enter_meant(asked(), 0, by=again.other, at=SOON)
    typed.refresh_from_db()
    assert (str(entered), entered.instrument, entered.entered_by) == ("52 psi", again.gauge, again.other)
    assert (typed.superseded_at, typed.superseded_by) == (SOON, again.other)
    question = asked()
    assert (question.answer, question.changed_to, question.by, question.at) == ("changed", entered, again.other, SOON)
    assert question.answer_words == "corrected to 52 psi"


def test_right_is_kept_and_never_asked_again_in_that_place(again):
    read(again, "52", "kPa")
    confirm_reading(asked(), by=again.technician, at=SOON)
    assert (asked().answer, asked().by, asked().at) == ("right", again.technician, SOON)
    read(again, "358", "kPa", at=SOON)
    read(again, "52", "kPa", at=SOON)
    assert ReadingQuestion.objects.count() == 1


def test_right_said_twice_is_kept_once(again):
    read(again, "52", "kPa")
    confirm_reading(asked(), by=again.technician, at=SOON)
    confirm_reading(asked(), by=again.other, at=SOON + timedelta(minutes=1))
    assert (asked().by, asked().at) == (again.technician, SOON)


def test_another_reading_typed_instead_answers_the_question(again):
    read(again, "52", "kPa")
    replaced = read(again, "360", "kPa", at=SOON)
    assert (asked().answer, asked().changed_to, asked().by) == ("changed", replaced, again.technician)


def test_a_reading_taken_back_takes_its_question_along(again):
    read(again, "52", "kPa")
    clear_reading(again.step(), "full_pressure", by=again.technician, at=SOON)
    assert (asked().answer, asked().changed_to, asked().answer_words) == ("changed", None, "the reading was taken back")


@pytest.mark.parametrize(
    "answer", [lambda q, **who: confirm_reading(q, **who), lambda q, **who: enter_meant(q, 0, **who)]
)
def test_a_question_settled_otherwise_takes_no_further_answer(again, answer):
    read(again, "52", "kPa")
    question = asked()
    read(again, "360", "kPa", at=SOON)
    with pytest.raises(QuestionSettled, match="corrected to 360 kPa"):
        answer(question, by=again.technician, at=SOON)
    assert [str(one) for one in Reading.objects.current().filter(step=again.step())] == ["360 kPa"]


def test_there_is_no_third_alternative(again):
    read(again, "52", "kPa")
    with pytest.raises(QuestionSettled, match="has 1 alternatives"):
        enter_meant(asked(), 1, by=again.technician, at=SOON)


def test_nothing_is_answered_once_the_inspection_is_signed(again):
    again.complete(at=LATER)
    read(again, "30", "kPa", field="alarm_pressure", instrument=again.gauge)
    again.sign(at=SOON)
    for answer in (confirm_reading, lambda q, **who: enter_meant(q, 0, **who)):
        with pytest.raises(RecordFrozen):
            answer(asked(), by=again.technician, at=SOON)
    assert asked().is_open


def test_without_history_the_usual_range_of_the_test_is_compared(scene):
    scene.enter("full_pressure", "50", unit="kPa")
    assert asked().asked == "Usually 300 to 560 kPa here. Did you mean 50 psi or 500 kPa?"


def test_without_own_history_other_machines_of_the_model_are_compared(scene):
    scene.complete()
    scene.sign()
    other = make_machine(area=scene.machine.area, model=scene.machine.model, at=NOON)
    beside = Scene(**{**vars(scene), "machine": other})
    beside.again(at=LATER)
    read(beside, "40", "L/min", field="set_flow")
    assert asked().asked == "4.0 L/min on another machine of this model. Did you mean 4 L/min?"


def test_a_value_of_any_earlier_inspection_is_no_surprise_whatever_the_last_one_showed(again):
    again.complete(at=LATER)
    again.sign(at=SOON)
    Reading.objects.filter(step=again.step(), field="full_pressure").update(as_read="200", unit="kPa")
    again.again(at=LATER + timedelta(days=30))
    read(again, "358", "kPa")
    read(again, "200", "kPa")
    assert not ReadingQuestion.objects.exists()
    read(again, "2.0", "kPa")
    read(again, "52", "kPa")
    assert [one.asked for one in ReadingQuestion.objects.all()] == [
        "200 kPa last time. Did you mean 2.0 bar or 200 kPa?",
        "358 kPa on 2 Nov 2026. Did you mean 52 psi or 520 kPa?",
    ]


def test_two_readings_that_cannot_both_be_right_are_asked_about(again):
    read(again, "4.0", "L/min", field="set_flow")
    read(again, "4.9", "L/min", field="falling", row=0, column="flow")
    assert (asked().kind, asked().alternatives) == ("pair", [])
    assert asked().asked == (
        "Flow of the other gas in row 1 of “Falling sweep” (4.9 L/min) is above flow of the other gas at the start "
        "(4.0 L/min). Nothing opens further as the oxygen pressure falls. Is 4.9 L/min right?"
    )


def test_a_pair_that_no_longer_contradicts_is_settled_by_the_other_reading(again):
    read(again, "4.0", "L/min", field="set_flow")
    read(again, "4.9", "L/min", field="falling", row=0, column="flow")
    corrected = read(again, "4.9", "L/min", field="set_flow", at=SOON)
    assert (asked().answer, asked().changed_to, asked().by) == ("changed", corrected, again.technician)


def test_what_a_signature_leaves_open_is_listed_by_step(again):
    read(again, "52", "kPa")
    ((step, questions),) = open_questions_of(again.inspection)
    assert (step, [one.place for one in questions]) == (again.step(), ["Oxygen pressure at the start"])
    again.leave_untested("supply-failure", "No oxygen today.", at=SOON)
    assert open_questions_of(again.inspection) == []


QUERIES = 9  # five of them for what is asked


@pytest.mark.parametrize("earlier", [1, 7])
def test_the_history_costs_the_same_queries_however_long_it_is(scene, django_assert_num_queries, earlier):
    for number in range(earlier):
        scene.complete(at=NOON + timedelta(days=number))
        scene.sign(at=NOON + timedelta(days=number, hours=1))
        scene.again(at=NOON + timedelta(days=number + 1))
    step = scene.inspection.steps.with_machine().get(code="supply-failure")
    with django_assert_num_queries(QUERIES):
        enter(step, "full_pressure", as_read="50", unit="psi", by=scene.technician, at=LATER)
