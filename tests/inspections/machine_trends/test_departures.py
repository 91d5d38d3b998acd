"""A result that departs from the trend of its machine is asked about; it decides nothing."""

from datetime import timedelta

import pytest

from inspections.actions import begin_as_left, confirm_reading, enter_reading
from inspections.at_bench.open_questions import open_questions_of
from inspections.at_bench.reading_entry import entry_at
from inspections.machine_trends.forecasting import make_forecasts
from inspections.models import QuestionKind, ReadingQuestion, SignedRecord, TrendForecast
from tests.factories import NOON
from tests.inspections.machine_trends.signed_years import sign_years
from tests.inspections.scenes import PASSING, RISING, enter

STEADY = (25.1, 25.0, 24.9, 25.1, 25.0)  # psi
# Trips at about 28 psi: within 20 to 30 psi, and far from what the machine has shown every year.
HIGHER = [("45", "4.0"), ("35", "4.0"), ("29", "3.6"), ("27", "0.4"), ("20", "0.0")]


@pytest.fixture
def steady(scene):
    """A machine with five yearly trips at 25 psi and a forecast, and an inspection of it in progress."""
    sign_years(scene.machine, scene.technician, STEADY)
    make_forecasts("supply-failure", at=NOON)
    assert TrendForecast.objects.get().results == 5
    return scene


def fill(scene, rows, *, step=None, at=NOON):
    """Enter a whole supply failure test, one reading after the other."""
    step = step or scene.step()
    start = [("full_pressure", scene.pressure("50")), ("set_flow", scene.flow("4.0"))]
    sweeps = [*scene.cells("falling", rows, "psi"), *scene.cells("rising", RISING, "psi")]
    for field, sent in (*start, *sweeps):
        enter_reading(step, entry_at(step, field, **sent), by=scene.technician, at=at)


def asked():
    return ReadingQuestion.objects.filter(kind=QuestionKind.TREND)


def correct(scene, rows):
    for row, (pressure, flow) in enumerate(rows):
        for column, said in (("pressure", scene.pressure(pressure)), ("flow", scene.flow(flow))):
            enter(scene.step(), "falling", row=row, column=column, by=scene.technician, at=NOON, **said)


def test_a_result_that_follows_its_trend_is_not_asked_about(steady):
    fill(steady, PASSING)
    assert not asked().exists()


def test_a_result_that_departs_is_asked_about_with_what_was_expected(steady):
    fill(steady, HIGHER)
    (question,) = asked()
    assert question.asked.startswith("Trip pressure: 28")
    assert "departs from the trend of this machine" in question.asked
    assert "was expected (99 %) after 5 results." in question.asked
    assert (question.reading.step, question.alternatives) == (steady.step(), [])
    ((step, questions),) = open_questions_of(steady.inspection)
    assert [one.question for one in questions] == [question]


def test_nothing_is_asked_before_the_step_is_complete_and_only_once_after(steady):
    step = steady.step()
    sweep = list(steady.cells("falling", HIGHER, "psi"))
    for field, sent in sweep:
        enter_reading(step, entry_at(step, field, **sent), by=steady.technician, at=NOON)
    assert not asked().exists()
    fill(steady, HIGHER)
    enter(step, "falling", row=1, column="flow", by=steady.technician, at=NOON, **steady.flow("3.9"))
    assert asked().count() == 1


def test_a_reading_that_brings_the_result_back_closes_the_question(steady):
    fill(steady, HIGHER)
    correct(steady, PASSING)
    assert [one.answer for one in asked()] == ["changed"]
    assert open_questions_of(steady.inspection) == []


def test_what_somebody_called_right_is_not_asked_about_again(steady):
    fill(steady, HIGHER)
    confirm_reading(asked().get(), by=steady.technician, at=NOON)
    enter(steady.step(), "set_flow", by=steady.technician, at=NOON, **steady.flow("4.1"))
    assert [one.answer for one in asked()] == ["right"]


def test_an_unanswered_question_does_not_prevent_the_signature_and_changes_no_decision(steady):
    fill(steady, HIGHER)
    steady.enter("seen", "yes", code="alarm")
    steady.leave_untested("flush", "No flowmeter of that range today.")
    steady.sign()
    result = steady.step().results.get(key="trip_pressure")
    assert (result.decision, asked().get().is_open) == ("pass", True)
    assert "departs from the trend" in SignedRecord.objects.get(inspection=steady.inspection).content


def test_without_enough_results_since_a_repair_nothing_is_asked(steady):
    TrendForecast.objects.update(results=2)
    fill(steady, HIGHER)
    assert not asked().exists()


def test_readings_as_left_are_not_compared_with_the_time_before_the_work(steady):
    fill(steady, HIGHER)
    begun = begin_as_left(steady.step(), work_done="Set to 28 psi.", by=steady.technician, at=NOON)
    fill(steady, HIGHER, step=begun, at=NOON + timedelta(minutes=30))
    assert not asked().filter(reading__step=begun).exists()


def test_a_machine_without_forecasts_is_not_evaluated_for_it(scene, monkeypatch):
    monkeypatch.setattr("inspections.machine_trends.departures.Evaluator", None)
    fill(scene, HIGHER)
    assert not asked().exists()
