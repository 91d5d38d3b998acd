from datetime import timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inspections.actions import clear_reading, reasons_against_signing, settle_contest
from inspections.errors import RecordFrozen, Refused
from inspections.models import Reading
from tests.factories import NOON, make_token
from tests.inspections.scenes import enter

LATER = NOON + timedelta(minutes=1)
PLACE = ("full_pressure", 0, "")


@pytest.fixture
def two(scene):
    """Ana entered 50 psi; Rui had seen the place empty and enters 52 psi."""
    first = scene.enter("full_pressure", "50", unit="psi")
    return first, rui_enters(scene, "52", seen=None)


def rui_enters(scene, text, *, seen, at=LATER):
    return enter(scene.step(), "full_pressure", as_read=text, unit="psi", by=scene.other, at=at, seen=seen)


def standing():
    return [str(reading) for reading in Reading.objects.current()]


def test_a_reading_entered_unseen_is_kept_beside_the_one_that_stands(two):
    first, second = two
    assert standing() == ["50 psi"]
    assert (second.is_contested, second.contests, str(second)) == (True, first, "52 psi")


def test_whoever_saw_what_stands_corrects_it_as_ever(scene):
    first = scene.enter("full_pressure", "50", unit="psi")
    assert not rui_enters(scene, "52", seen=first.pk).is_contested
    assert standing() == ["52 psi"]


def test_an_old_page_contests_a_correction_too(scene):
    first = scene.enter("full_pressure", "50", unit="psi")
    rui_enters(scene, "52", seen=first.pk)
    third = enter(scene.step(), "full_pressure", as_read="53", unit="psi", by=scene.technician, at=LATER, seen=first.pk)
    assert (standing(), third.is_contested) == (["52 psi"], True)


def test_two_who_read_the_same_do_not_contest(scene):
    scene.enter("full_pressure", "50", unit="psi")
    assert not rui_enters(scene, "50", seen=None).is_contested
    assert Reading.objects.count() == 1


def test_ones_own_reading_that_the_page_did_not_show_is_not_replaced(scene):
    scene.enter("full_pressure", "50", unit="psi")
    again = scene.enter("full_pressure", "51", unit="psi", at=LATER, seen=None)
    assert (standing(), again.is_contested) == (["50 psi"], True)
    assert clear_reading(scene.step(), "full_pressure", by=scene.technician, at=LATER, seen=None) is not None


def test_ones_own_reading_whose_answer_was_lost_may_be_sent_again(scene):
    first = scene.enter("full_pressure", "50", unit="psi")
    assert scene.enter("full_pressure", "50", unit="psi", at=LATER, seen=None) == first
    assert Reading.objects.count() == 1


def test_a_program_corrects_its_own_reading_without_naming_it(scene):
    token, _ = make_token(scene.technician)
    scene.enter("full_pressure", "50", unit="psi", token=token, seen=None)
    again = scene.enter("full_pressure", "51", unit="psi", token=token, at=LATER, seen=None)
    assert (standing(), again.is_contested) == (["51 psi"], False)


@given(st.lists(st.tuples(st.sampled_from("AB"), st.sampled_from("123"), st.booleans()), max_size=8))
@settings(
    max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
def test_no_reading_is_ever_replaced_by_one_whose_page_did_not_show_it(scene, entries):
    """Two people, or one on two pages, enter readings in one place; a page shows what was there when it was opened."""
    Reading.objects.update(contests=None)
    Reading.objects.all().delete()
    people, shown = {"A": scene.technician, "B": scene.other}, {}
    for who, text, reloads in entries:
        now = Reading.objects.current().first()
        if reloads:
            shown[who] = now
        seen = shown.get(who)
        entry = {"as_read": text, "unit": "psi", "by": people[who], "at": LATER, "seen": seen and seen.pk}
        entered = enter(scene.step(), "full_pressure", **entry)
        if now is None or now == seen or now.as_read == text:
            assert (standing(), entered.is_contested) == ([f"{text} psi"], False)
            shown[who] = entered
        else:
            assert (standing(), entered.is_contested) == ([str(now)], True)


def test_a_contested_reading_sent_again_is_not_kept_twice(scene, two):
    assert rui_enters(scene, "52", seen=None, at=LATER + timedelta(seconds=5)) == two[1]
    assert Reading.objects.count() == 2


def test_choosing_the_second_lets_it_stand_under_the_name_of_who_read_it(scene, two):
    first, second = two
    settle_contest(second, stands=True, by=scene.technician, at=LATER)
    first.refresh_from_db()
    assert standing() == ["52 psi"]
    assert (second.entered_by, second.settled_by) == (scene.other, scene.technician)
    assert (first.superseded_at, first.superseded_by) == (LATER, scene.technician)


def test_choosing_the_first_keeps_the_second_in_the_table(scene, two):
    settle_contest(two[1], stands=False, by=scene.other, at=LATER)
    assert standing() == ["50 psi"]
    assert Reading.objects.count() == 2
    assert not Reading.objects.contested().exists()


@pytest.mark.parametrize("stands", [True, False])
def test_choosing_twice_is_refused(scene, two, stands):
    settle_contest(two[1], stands=True, by=scene.technician, at=LATER)
    with pytest.raises(Refused, match="already decided"):
        settle_contest(two[1], stands=stands, by=scene.other, at=LATER)
    assert standing() == ["52 psi"]


def test_entering_another_gives_up_ones_own_contested_reading_and_no_one_elses(scene, two):
    first, second = two
    scene.enter("full_pressure", "50.5", unit="psi", at=LATER, seen=first.pk)
    assert list(Reading.objects.contested()) == [second]
    now = Reading.objects.current().get()
    rui_enters(scene, "51", seen=now.pk)
    assert standing() == ["51 psi"]
    assert not Reading.objects.contested().exists()


def test_what_somebody_else_entered_unseen_is_not_taken_back(scene):
    first = scene.enter("full_pressure", "50", unit="psi")
    kept = clear_reading(scene.step(), "full_pressure", by=scene.other, at=LATER, seen=None)
    assert (kept, standing()) == (first, ["50 psi"])
    assert clear_reading(scene.step(), "full_pressure", by=scene.other, at=LATER, seen=first.pk) is None
    assert standing() == []


def test_a_signature_waits_for_the_choice(scene):
    scene.complete()
    second = rui_enters(scene, "52", seen=None)
    assert reasons_against_signing(scene.inspection) == [
        "Oxygen supply failure: nitrous oxide: choose between the two readings of oxygen pressure at the start."
    ]
    settle_contest(second, stands=False, by=scene.other, at=LATER)
    assert reasons_against_signing(scene.inspection) == []


def test_nothing_is_chosen_off_the_bench(scene, two):
    type(scene.inspection).objects.update(stage="void", void_reason="Wrong machine")
    with pytest.raises(RecordFrozen, match="is void"):
        settle_contest(two[1], stands=True, by=scene.technician, at=LATER)
