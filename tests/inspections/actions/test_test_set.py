"""A test set is a person's own, for one site and day."""

from datetime import timedelta

import pytest

from inspections.actions import add_to_test_set, choose_test_set
from inspections.at_bench.instrument_choice import instruments_at
from inspections.errors import InstrumentRefused
from inspections.models import InstrumentOfDay
from tests.factories import TODAY, make_instrument


def choices(scene, day=TODAY):
    return instruments_at(scene.machine.site, day, person=scene.technician)


def own(scene, day=TODAY):
    return [choice.code for choice in choices(scene, day) if choice.is_in_set]


def test_a_set_holds_what_was_chosen_last_and_what_was_added(scene):
    place = {"site": scene.machine.site, "day": TODAY, "by": scene.technician}
    gauge, flowmeter = choices(scene)
    choose_test_set([gauge], **place)
    add_to_test_set(flowmeter, **place)
    add_to_test_set(flowmeter, **place)
    assert own(scene) == [gauge.code, flowmeter.code]
    choose_test_set([flowmeter], **place)
    assert own(scene) == [flowmeter.code]
    assert own(scene, TODAY + timedelta(days=1)) == []


def test_an_old_set_is_removed(scene):
    place = {"site": scene.machine.site, "by": scene.technician}
    for days in (60, 20, 0):
        choose_test_set(choices(scene), day=TODAY - timedelta(days=days), **place)
    days = set(InstrumentOfDay.objects.values_list("day", flat=True))
    assert days == {TODAY, TODAY - timedelta(days=20)}


def test_an_instrument_out_of_calibration_is_refused_and_the_set_stays(scene):
    make_instrument(site=scene.machine.site, code="A-old", result="outside")
    place = {"site": scene.machine.site, "day": TODAY, "by": scene.technician}
    old, gauge, _ = choices(scene)
    choose_test_set([gauge], **place)
    with pytest.raises(InstrumentRefused, match="A-old cannot be used for a signed reading: out of specification"):
        choose_test_set([old], **place)
    with pytest.raises(InstrumentRefused, match="A-old"):
        add_to_test_set(old, **place)
    assert own(scene) == [gauge.code]
