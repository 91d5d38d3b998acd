"""An Entry is the same whether a form or a program sends the reading."""

import pytest
from django.http import QueryDict
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inspections.api.bench import ReadingIn, entry_of
from inspections.at_bench.instrument_choice import instruments_at
from inspections.at_bench.reading_entry import entry_at, make_entry
from inspections.at_bench.slots import find_slot
from inspections.errors import ReadingRefused
from inspections.forms.bench import read_entry
from tests.factories import TODAY
from tests.inspections.scenes import make_scene

PLACES = [("full_pressure", 0, ""), ("set_flow", 0, ""), ("falling", 2, "pressure"), ("falling", 0, "flow")]


@pytest.fixture
def scene(db, tmp_path):
    return make_scene(tmp_path)


@settings(max_examples=60, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(
    place=st.sampled_from(PLACES),
    text=st.decimals(0, 90, places=1).map(str),
    zero=st.sampled_from(["", "gauge", "absolute"]),
    named=st.booleans(),
    seen=st.none() | st.integers(1, 10**6),
)
def test_a_form_and_a_program_make_the_same_entry(scene, place, text, zero, named, seen):
    step = scene.step()
    slot = find_slot(step, *place)
    instrument = scene.gauge if slot.dimension == "pressure" else scene.flowmeter
    names, sent = slot.names, QueryDict(mutable=True)
    sent[names.value], sent[names.unit], sent[names.zero] = text, slot.units[-1], zero
    sent[names.instrument], sent[names.seen] = (instrument.pk if named else ""), ("" if seen is None else seen)
    sent = QueryDict(sent.urlencode())
    body = ReadingIn(
        field=place[0], row=place[1], column=place[2] or None, as_read=text, unit=slot.units[-1], zero=zero,
        instrument=instrument.code if named else "", seen=seen,
    )  # fmt: skip
    from_form = read_entry(sent, slot, instruments_at(scene.machine.site, TODAY))
    direct = entry_at(
        step, place[0], row=place[1], column=place[2], as_read=text, unit=slot.units[-1], zero=zero,
        instrument=instrument if named else None, seen=seen,
    )  # fmt: skip
    assert from_form == entry_of(step, body) == direct


def test_an_answer_takes_the_unit_of_its_question_and_no_instrument(scene):
    entry = entry_at(scene.step("alarm"), "seen", as_read=" yes ", unit="psi", instrument=scene.gauge)
    assert (entry.as_read, entry.unit, entry.zero, entry.instrument) == ("yes", "yes/no", "", None)


@pytest.mark.parametrize("sent", [{"as_read": "1" * 41}, {"as_read": "5", "zero": "sea level"}])
def test_what_no_reading_can_be_is_refused_before_the_action(scene, sent):
    with pytest.raises(ReadingRefused):
        entry_at(scene.step(), "full_pressure", unit="psi", **sent)


def test_an_entry_repeats_the_reading_that_it_made(scene):
    made = scene.enter("full_pressure", "50", unit="psi", instrument=scene.gauge)
    slot = find_slot(scene.step(), "full_pressure")
    assert make_entry(slot, "50", unit="psi", zero="gauge", instrument=scene.gauge).repeats(made)
    assert not make_entry(slot, "50", unit="psi", instrument=None).repeats(made)
    assert make_entry(slot, "").repeats(None)
