"""A reading that no longer counts says who replaced it and when, whichever way it went."""

from datetime import timedelta

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inspections.actions import clear_reading, settle_contest
from inspections.at_bench.corrections import corrections_at, corrections_by_step
from inspections.models import Reading
from tests.factories import NOON

SLOT = ("set_flow", 0, "")
ACTS = ("enter", "other enters", "other enters unseen", "choose", "drop", "take back")


def minute(number):
    return NOON + timedelta(minutes=number)


def told(scene):
    """What was replaced, by whom and when, the newest first."""
    readings = list(Reading.objects.filter(step=scene.step()))
    return [(one.reading.as_read, one.by, one.at) for one in corrections_at(SLOT, readings)]


def flow(scene, as_read, number, **fields):
    return scene.enter("set_flow", as_read, unit="L/min", instrument=scene.flowmeter, at=minute(number), **fields)


def test_a_replaced_and_a_taken_back_reading_are_corrections(scene):
    flow(scene, "4.0", 0)
    assert told(scene) == []
    flow(scene, "4.1", 1, by=scene.other)
    clear_reading(scene.step(), "set_flow", by=scene.technician, at=minute(2))
    assert told(scene) == [("4.1", scene.technician, minute(2)), ("4.0", scene.other, minute(1))]


def test_of_two_contested_readings_the_one_that_was_not_chosen_is_a_correction_of_who_chose(scene):
    flow(scene, "4.0", 0)
    contested = flow(scene, "4.4", 1, by=scene.other, seen=None)
    assert contested.is_contested and told(scene) == []
    settle_contest(contested, stands=True, by=scene.technician, at=minute(2))
    assert told(scene) == [("4.0", scene.technician, minute(2))]
    flow(scene, "4.5", 3)
    assert told(scene)[0] == ("4.4", scene.technician, minute(3))


def test_a_contested_reading_that_was_dropped_is_a_correction(scene):
    flow(scene, "4.0", 0)
    contested = flow(scene, "4.4", 1, by=scene.other, seen=None)
    settle_contest(contested, stands=False, by=scene.technician, at=minute(2))
    assert told(scene) == [("4.4", scene.technician, minute(2))]


@settings(
    deadline=None, max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
@given(acts=st.lists(st.sampled_from(ACTS), max_size=7))
def test_every_reading_counts_is_contested_or_is_one_correction(scene, acts):
    Reading.objects.update(contests=None)
    Reading.objects.all().delete()
    for number, act in enumerate(acts):
        contested = Reading.objects.contested().filter(step=scene.step()).first()
        if act in ("choose", "drop") and contested:
            settle_contest(contested, stands=act == "choose", by=scene.technician, at=minute(number))
        elif act == "take back":
            clear_reading(scene.step(), "set_flow", by=scene.other, at=minute(number))
        elif act not in ("choose", "drop"):
            by = scene.technician if act == "enter" else scene.other
            seen = {"seen": None} if "unseen" in act else {}
            flow(scene, f"{4 + number / 10:.1f}", number, by=by, **seen)
    readings = list(Reading.objects.filter(step=scene.step()))
    corrections = corrections_at(SLOT, readings)
    counting = [r for r in readings if r.superseded_at is None or r.is_contested]
    assert sorted(r.pk for r in counting) + sorted(c.reading.pk for c in corrections) == [
        *sorted(r.pk for r in counting),
        *sorted({r.pk for r in readings} - {r.pk for r in counting}),
    ]
    assert all(one.by is not None and one.at >= one.reading.entered_at for one in corrections)
    by_step = corrections_by_step([scene.step().pk]).get(scene.step().pk, [])
    assert [one.reading.pk for one in by_step] == [one.reading.pk for one in reversed(corrections)]
