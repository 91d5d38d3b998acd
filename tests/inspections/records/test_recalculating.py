"""Records are recalculated alike by one process and by several."""

import multiprocessing
import threading
from datetime import timedelta

import pytest

from fleet.confined import Exceeded
from inspections.bench.examples import EXAMPLES
from inspections.bench.many_evaluations import Question, evaluate_questions
from inspections.bench.serialise import context_from_dict, evaluation_to_dict, sheet_from_dict
from inspections.models import Inspection, InspectionStep, Reading
from inspections.records import recalculating
from inspections.records.recalculating import recalculated
from inspections.records.reevaluation import differences
from tests.daemonic import confined
from tests.factories import NOON, make_instrument
from tests.inspections.scenes import make_scene


@pytest.fixture
def records(db, tmp_path):
    """Five signed records: since then an instrument became less accurate, a reading impossible and a test unknown."""
    scene, made = make_scene(tmp_path), []
    for number in range(5):
        if number:
            scene.again(at=NOON + timedelta(days=number))
        used, scene.gauge = scene.gauge, make_instrument(site=scene.machine.site) if number == 1 else scene.gauge
        scene.complete(at=NOON + timedelta(days=number))
        made.append(scene.sign(at=NOON + timedelta(days=number)))
        if number == 1:
            scene.gauge.scales.filter(dimension="pressure").update(of_reading_percent=5)
            scene.gauge = used
        if number == 3:
            Reading.objects.filter(step__inspection=made[-1], unit="psi").update(as_read="none")
        if number == 4:
            InspectionStep.objects.filter(inspection=made[-1], test_code="supply-failure").update(test_code="gone")
    return made


@pytest.fixture
def small_batches(monkeypatch):
    monkeypatch.setattr(recalculating, "BATCH", 2)
    monkeypatch.setattr(recalculating, "FEWEST", 1)


def loaded():
    signed = Inspection.objects.filter(record__isnull=False).order_by("pk")
    return signed.select_related("record", "machine__area__site", "machine__model")


def compared(processes):
    found = recalculated(loaded().iterator(), loaded().count(), processes=processes)
    return [(inspection.pk, said) for inspection, said in found]


def counted(monkeypatch, called):
    asked = []

    def count(function, questions, **options):
        asked.append(len(questions))
        return called(function, questions, **options)

    monkeypatch.setattr(recalculating, "run_confined", count)
    return asked


def test_several_processes_find_what_one_finds(records, small_batches, monkeypatch):
    alone = compared(1)
    assert alone == [(one.pk, differences(one)) for one in loaded()]
    found = {pk: {one.what for one in said} for pk, said in alone}
    assert [bool(found[one.pk]) for one in records] == [False, True, False, True, True]
    assert "expanded uncertainty" in found[records[1].pk]
    assert "reading" in found[records[3].pk] and "test" in found[records[4].pk]
    asked = counted(monkeypatch, recalculating.run_confined)
    assert compared(2) == alone == compared(4)
    assert len(asked) >= 4 and all(asked)  # one batch at least by one process, all three by three


def test_few_records_are_left_to_one_process(records, monkeypatch):
    asked = counted(monkeypatch, recalculating.run_confined)
    assert [pk for pk, _ in compared(4)] == [one.pk for one in records]
    assert not asked


def test_a_batch_whose_process_ends_is_evaluated_here(records, small_batches, monkeypatch):
    alone = compared(1)

    def ended(function, questions, **options):
        raise Exceeded("600 seconds of computing")

    asked = counted(monkeypatch, ended)
    assert compared(4) == alone and len(asked) == 3


def test_what_the_others_have_no_time_for_is_evaluated_here(records, small_batches, monkeypatch):
    alone, is_over = compared(1), threading.Event()

    def slow(function, questions, **options):
        assert is_over.wait(60)
        return evaluate_questions(questions)

    asked = counted(monkeypatch, slow)
    here = counted_here(monkeypatch, is_over)
    assert compared(2) == alone
    assert len(asked) == 1 and len(here) == 2


def counted_here(monkeypatch, is_over):
    """Count the batches that are evaluated in this process, and let the other one go on after the second."""
    here, evaluate = [], recalculating._evaluated_here

    def count(questions):
        here.append(len(questions))
        if len(here) == 2:
            is_over.set()
        return evaluate(questions)

    monkeypatch.setattr(recalculating, "_evaluated_here", count)
    return here


def test_the_store_is_read_by_the_batch(records, small_batches, django_assert_max_num_queries):
    with django_assert_max_num_queries(60):
        compared(2)


def assert_same(one, other):
    """Equal, figures but for the last digits: linear algebra adds in another order with another number of threads."""
    assert type(one) is type(other)
    if isinstance(one, dict):
        assert one.keys() == other.keys()
        one, other = list(one.values()), list(other.values())
    if isinstance(one, list):
        assert len(one) == len(other)
        for mine, yours in zip(one, other, strict=True):
            assert_same(mine, yours)
    else:
        assert one == (pytest.approx(other, rel=1e-12) if isinstance(other, float) else other)


def questions_of_examples():
    for example in EXAMPLES.values():
        context = context_from_dict(example.get("context", {}), instruments=example.get("instruments", ()))
        yield Question(example["test"], frozenset(), sheet_from_dict(example), context)


def test_a_daemonic_process_can_have_it_done():
    receiver, sender = multiprocessing.Pipe(duplex=False)
    questions = list(questions_of_examples())
    given = [sender, recalculating.ELSEWHERE, questions, recalculating.LIMITS]
    process = multiprocessing.get_context("spawn").Process(target=confined, args=given, daemon=True)
    process.start()
    sender.close()  # so that what ends without an answer is waited for no longer
    assert receiver.poll(300), "no answer in five minutes"
    pairs = zip(receiver.recv(), evaluate_questions(questions), strict=True)
    for elsewhere, here in pairs:
        assert_same(evaluation_to_dict(elsewhere), evaluation_to_dict(here))
    process.join(30)
    assert process.exitcode == 0
