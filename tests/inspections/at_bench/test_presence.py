from datetime import timedelta

from inspections.at_bench.presence import bench_in_words, others_at
from tests.factories import NOON, make_inspection, make_person
from tests.inspections.scenes import enter


def seen_by(scene, person, minutes):
    return [(str(o.person), o.minutes) for o in others_at(scene.inspection, person, NOON + timedelta(minutes=minutes))]


def test_who_opened_the_bench_or_entered_a_reading_of_late_is_named_with_the_minutes_since(scene):
    assert seen_by(scene, scene.technician, 2) == []
    assert seen_by(scene, scene.other, 2) == [("Ana Ferro", 2)]
    enter(scene.step(), "full_pressure", as_read="50", unit="psi", by=scene.other, at=NOON + timedelta(minutes=3))
    assert seen_by(scene, scene.technician, 3) == [("Rui Serra", 0)]
    assert seen_by(scene, make_person("technician"), 4) == [("Rui Serra", 1), ("Ana Ferro", 4)]


def test_who_was_last_there_a_while_ago_is_not_named(scene):
    assert seen_by(scene, scene.other, 15) == []


def test_it_costs_two_queries_however_many_readings_and_people(scene, django_assert_num_queries):
    scene.sweep()
    for number in range(7):
        person = make_person("technician")
        scene.technician = person
        scene.cell(number, "pressure", f"{50 - number}", unit="psi")
    with django_assert_num_queries(2):
        assert len(others_at(scene.inspection, scene.other, NOON)) == 5


def test_the_bench_in_words_says_who_since_when_and_how_far_in_the_time_of_the_site(scene):
    """Lisbon keeps UTC in November."""
    assert bench_in_words(scene.inspection) == (
        "Ana Ferro started it on 2 Nov 2026 at 12:00. No reading has been entered yet."
    )
    scene.enter("full_pressure", "50", unit="psi", at=NOON + timedelta(minutes=30))
    assert bench_in_words(scene.inspection).endswith(
        "at 12:00 and 1 reading has been entered, the last on 2 Nov 2026 at 12:30."
    )


def test_of_an_inspection_that_is_not_on_the_bench_there_is_nothing_to_say(db):
    assert bench_in_words(make_inspection()) == ""
