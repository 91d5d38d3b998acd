"""Repeats of a reading: typed behind it, stored with it, counted as their mean, frozen and named by the record."""

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from inspections.actions import enter_meant
from inspections.at_bench.evaluation import bench_reading
from inspections.at_bench.reading_entry import make_entry
from inspections.at_bench.slots import Slot
from inspections.at_bench.typed_unit import read_typed
from inspections.chain.verification import verify_store
from inspections.errors import ReadingRefused
from inspections.models import Reading
from inspections.records.signed_record import reading_text
from tests.factories import NOON

FLOW = Slot("set_flow", 0, "", "Flow", "flow", ("L/min", "mL/min"))
NUMBERS = st.decimals(min_value=-99, max_value=99, places=1).map(str)


@given(
    numbers=st.lists(NUMBERS, min_size=1, max_size=5),
    between=st.sampled_from([";", "; ", " ; "]),
    unit=st.sampled_from(["", "L/min", "mL/min"]),
    decimal=st.sampled_from([".", ","]),
)
def test_every_number_comes_back_in_order_whatever_unit_and_decimal_sign(numbers, between, unit, decimal):
    typed = read_typed(FLOW, f"{between.join(numbers)} {unit}".replace(".", decimal))
    entry = make_entry(FLOW, typed.digits, unit=typed.unit, decimal=decimal)
    assert [entry.as_read, *entry.read_again.split()] == numbers and entry.unit == unit


@pytest.mark.parametrize("text", ["4.1 4.2", "4.1; x", "x; 4.1", ";", "4.1;; L"])
def test_what_is_no_row_of_numbers_is_refused(text):
    with pytest.raises(ReadingRefused):
        make_entry(FLOW, read_typed(FLOW, text).digits)


def test_a_semicolon_at_the_end_adds_nothing():
    assert make_entry(FLOW, "4.1; ").read_again == ""


def post(client, scene, value):
    data = {"slot": "set_flow", "set_flow": value, "set_flow:unit": "L/min"}
    return client.post(scene.url("reading_enter"), data, headers={"HX-Request": "true"})


def test_the_form_stores_repeats_shows_them_and_refuses_one_that_cannot_be(client, scene):
    client.force_login(scene.technician)
    answer = post(client, scene, "4.1;4.3")
    reading = Reading.objects.get()
    assert (reading.as_read, reading.read_again, str(reading)) == ("4.1", "4.3", "4.1 L/min; 4.3 L/min")
    assert 'data-settled="4.1; 4.3"' in answer.text
    assert 'value="4.1; 4.3"' in client.get(scene.step_url).text
    assert bench_reading(reading).repeats == (4.3,)
    assert "9999999 L/min is not plausible" in post(client, scene, "4.1; 9999999").text
    assert post(client, scene, "4.1; 4.3").status_code == 200 and Reading.objects.count() == 1


def test_a_unit_that_was_meant_is_meant_for_the_repeats_too(scene):
    reading = scene.enter("full_pressure", "50; 51", unit="kPa", instrument=scene.gauge)
    question = reading.questions.get()
    meant = [one["as_read"] == "50" and one["unit"] == "psi" for one in question.alternatives].index(True)
    assert str(enter_meant(question, meant, by=scene.technician, at=NOON)) == "50 psi; 51 psi"


def test_a_signed_record_holds_and_names_the_repeats_and_proves_them(scene):
    scene.complete()
    scene.enter("set_flow", "4.0; 4.1; 3.9", unit="L/min", instrument=scene.flowmeter)
    scene.sign()
    step = next(one for one in json.loads(scene.inspection.record.content)["steps"] if one["code"] == "supply-failure")
    frozen = next(one for one in step["readings"] if one["field"] == "set_flow")
    assert (frozen["read_again"], reading_text(frozen)) == ("4.1 3.9", "4.0; 4.1; 3.9 L/min")
    assert "read_again" not in next(one for one in step["readings"] if one["field"] == "full_pressure")
    assert [one for one in verify_store() if one.inspection] == []
    Reading.objects.filter(field="set_flow", superseded_at=None).update(read_again="4.1 3.8")
    assert [one for one in verify_store() if one.inspection] != []
