"""Inspections, readings, evaluations, records and findings."""

import hashlib
import json
from datetime import timedelta

import pytest
import time_machine

from fleet.models import Instrument
from inspections.actions import amend_inspection, report_fault
from inspections.bench import TESTS
from inspections.models import Finding, Reading
from tests.factories import (
    NOON,
    TODAY,
    make_area,
    make_inspection,
    make_instrument,
    make_machine,
    make_open_inspection,
    make_person,
    make_signed_inspection,
    make_site,
)
from tests.inspections.scenes import PASSING, enter


@pytest.fixture
def caller(call_as, scene):
    """The scene's technician through a program."""
    return call_as("technician", owner=scene.technician)


@pytest.fixture(autouse=True)
def on_the_day():
    with time_machine.travel(NOON, tick=False):
        yield


def entry(scene, **fields):
    sent = {"field": "set_flow", "as_read": "4.0", "unit": "L/min", "instrument": scene.flowmeter.code}
    return {**sent, **fields}


def post(caller, scene, **fields):
    return caller.post(f"/steps/{scene.step().pk}/readings", entry(scene, **fields))


def test_due_work_is_found_by_stage_date_person_and_place(caller, scene):
    late = make_inspection(make_machine(), due_on=TODAY - timedelta(days=60))
    assert [row["id"] for row in caller.items("/inspections", due="overdue")] == [late.pk]
    assert {row["id"] for row in caller.items("/inspections", due="open")} == {late.pk, scene.inspection.pk}
    assert [row["id"] for row in caller.items("/inspections", stage="on bench")] == [scene.inspection.pk]
    mine = caller.items("/inspections", technician=scene.technician.username, site=scene.machine.site.pk)
    assert [row["id"] for row in mine] == [scene.inspection.pk]
    assert [row["id"] for row in caller.items("/inspections", due_to=str(TODAY - timedelta(days=1)))] == [late.pk]
    assert mine[0]["technician"] == {"username": scene.technician.username, "name": "Ana Ferro"}
    assert mine[0]["area"]["name"] == scene.machine.area.name


def test_an_inspection_shows_its_steps_and_the_readings_that_stand(caller, scene):
    scene.enter("set_flow", "4.0", unit="L/min", instrument=scene.flowmeter)
    scene.enter("set_flow", "5.0", unit="L/min", instrument=scene.flowmeter)
    found = caller.get(f"/inspections/{scene.inspection.pk}").json()
    step = found["steps"][0]
    assert [reading["as_read"] for reading in step["readings"]] == ["5.0"]
    assert (step["test"], step["subject"], step["outcomes"]) == ("supply-failure", "nitrous-oxide", [])
    # US Standard Atmosphere 1976 at 620 m, the altitude of the scene's site: 94.1 kPa
    assert found["ambient_pa_abs"] == pytest.approx(94_100, rel=2e-3)


def test_results_of_a_signed_inspection_name_unit_si_unit_limit_and_source(caller, scene):
    scene.complete()
    scene.sign()
    found = caller.get(f"/inspections/{scene.inspection.pk}").json()
    trip = next(result for result in found["steps"][0]["outcomes"] if result["key"] == "trip_pressure")
    assert (trip["unit"], trip["si_unit"], trip["decision"]) == ("psi", "Pa", "pass, limit not confirmed")
    assert trip["value_si"] == pytest.approx(trip["value"] * 6894.757, rel=1e-6)  # NIST SP 811, Appendix B: psi
    assert trip["limit"]["source"] and trip["limit"]["rule"]
    assert found["signed_by"]["name"] == "Ana Ferro"


def test_a_posted_reading_is_kept_in_the_name_of_the_owner_and_told_what_it_means(caller, scene):
    answer = post(caller, scene)
    assert answer.status_code == 201
    reading = Reading.objects.get()
    assert (reading.as_read, reading.unit, reading.entered_by) == ("4.0", "L/min", scene.technician)
    assert answer.json()["reading"]["id"] == reading.pk
    assert answer.json()["evaluation"]["missing"]


def test_a_posted_reading_that_looks_like_a_slip_is_saved_and_the_question_told(caller, scene):
    """50 kPa where pipelines show 300 to 560 kPa: 50 psi is 345 kPa. A reading that fits is told without a question."""
    doubted = post(caller, scene, field="full_pressure", as_read="50", unit="kPa")
    assert doubted.status_code == 201
    assert doubted.json()["question"] == {
        "asked": "Usually 300 to 560 kPa here. Did you mean 50 psi or 500 kPa?",
        "alternatives": [{"as_read": "50", "unit": "psi"}, {"as_read": "500", "unit": "kPa"}],
    }
    fitting = post(caller, scene, field="full_pressure", as_read="50", unit="psi", seen=doubted.json()["reading"]["id"])
    assert fitting.json()["question"] is None


def test_a_whole_sweep_posted_comes_to_a_decision(caller, scene):
    kpa = {"unit": "psi", "instrument": scene.gauge.code}
    assert post(caller, scene, field="full_pressure", as_read="50", **kpa).status_code == 201
    assert post(caller, scene).status_code == 201
    for row, (pressure, flow) in enumerate(PASSING):
        assert (
            post(caller, scene, field="falling", row=row, column="pressure", as_read=pressure, **kpa).status_code == 201
        )
        last = post(caller, scene, field="falling", row=row, column="flow", as_read=flow)
    scene.rise()
    live = caller.get(f"/steps/{scene.step().pk}/evaluation").json()
    assert live["decision"] == "pass, limit not confirmed" and live["missing"] == []
    before = last.json()["evaluation"]
    assert (before["decision"], before["outcomes"][-1]["reason"]) == ("not tested", "not measured")


@pytest.mark.parametrize(
    ("fields", "told"),
    [
        ({"unit": ""}, "give the unit"),
        ({"unit": "psi"}, "takes L/min"),
        ({"as_read": "four"}, "is not a number"),
        ({"field": "nothing"}, "no place for a reading"),
        ({"instrument": "G-none"}, "not in use at the machine's site"),
        ({"zero": "gauge", "unit": "K"}, "got the unit"),
    ],
)
def test_a_reading_that_the_place_does_not_take_is_refused_as_at_the_bench(caller, scene, fields, told):
    answer = post(caller, scene, **fields)
    assert answer.status_code == 422 and told in answer.json()["detail"]
    assert not Reading.objects.exists()


def test_an_instrument_out_of_calibration_is_refused(caller, scene):
    old = make_instrument(site=scene.machine.site, due_on=TODAY - timedelta(days=1))
    answer = post(caller, scene, instrument=old.code)
    assert answer.status_code == 422 and "expired" in answer.json()["detail"]


def test_readings_are_refused_once_the_inspection_is_signed(caller, scene):
    scene.complete()
    scene.sign()
    assert post(caller, scene).status_code == 409
    assert caller.get(f"/steps/{scene.step().pk}/evaluation").status_code == 409


def test_a_reading_of_somebody_else_is_not_overwritten_unseen(caller, scene):

    step = scene.step()
    standing = enter(step, "set_flow", as_read="3.0", unit="L/min", instrument=scene.flowmeter, by=scene.other, at=NOON)
    unseen = post(caller, scene).json()["reading"]
    assert unseen["is_contested"] and Reading.objects.current().get() == standing
    seen = post(caller, scene, as_read="4.5", seen=standing.pk).json()["reading"]
    assert not seen["is_contested"] and Reading.objects.current().get().pk == seen["id"]


def test_readings_take_the_permission_of_the_bench(call_as, scene):
    assert post(call_as("auditor"), scene).status_code == 403
    assert post(call_as("manager"), scene).status_code == 403


def test_a_step_of_another_site_is_not_there(call_as, scene):
    elsewhere = call_as("technician", owner=make_person("technician", sites=[make_site()]))
    assert post(elsewhere, scene).status_code == 404
    for path in (f"/inspections/{scene.inspection.pk}", f"/steps/{scene.step().pk}/evaluation"):
        assert elsewhere.get(path).status_code == 404
    assert elsewhere.items("/inspections") == []


def test_a_record_can_be_checked_against_its_digest(caller, scene):
    path = f"/inspections/{scene.inspection.pk}/record"
    assert caller.get(path).status_code == 404
    scene.complete()
    scene.sign()
    amend_inspection(scene.inspection, correction="Flow 4.1", reason="Slip", by=scene.technician, at=NOON)
    found = caller.get(path).json()
    assert hashlib.sha256(found["content"].encode()).hexdigest() == found["digest"]  # FIPS 180-4
    assert json.loads(found["content"])["machine"]["asset_number"] == scene.machine.asset_number
    assert [(a["correction"], a["step"]) for a in found["amendments"]] == [("Flow 4.1", None)]


def test_a_reported_fault_opens_a_finding_in_the_name_of_the_owner(caller, scene):
    body = {"title": " Flush sticks ", "description": "Since today", "severity": "essential"}
    answer = caller.post(f"/machines/{scene.machine.pk}/findings", body)
    assert answer.status_code == 201
    finding = Finding.objects.get()
    assert (finding.title, finding.opened_by) == ("Flush sticks", scene.technician)
    assert caller.get(f"/findings/{finding.pk}").json() == answer.json()
    assert [row["id"] for row in caller.items("/findings", status="open", severity="essential")] == [finding.pk]
    assert caller.items("/findings", status="closed") == []


def test_a_finding_of_another_site_is_not_there(call_as, scene):
    finding = report_fault(scene.machine, title="Leaks", severity="other", by=scene.technician, at=NOON)
    elsewhere = call_as("technician", owner=make_person("technician", sites=[make_site()]))
    assert elsewhere.items("/findings") == []
    assert elsewhere.get(f"/findings/{finding.pk}").status_code == 404


def test_a_test_tells_the_readings_units_and_limits_of_its_declaration(caller):
    assert [row["code"] for row in caller.items("/tests", page_size=100)] == list(TESTS)
    for code in TESTS:
        assert caller.get(f"/tests/{code}").json()["outcomes"], code
    detail = caller.get("/tests/supply-failure").json()
    assert "psi" in detail["readings"][0]["units"] and detail["limits"][0]["source"]
    assert caller.get("/tests/nothing").status_code == 404


def test_procedures_tell_their_newest_version(caller, scene):
    row = caller.items("/procedures")[0]
    assert (row["code"], row["newest_number"], row["interval_months"]) == ("yearly", 1, 12)


def test_a_list_of_work_takes_as_many_queries_for_thirty_rows_as_for_three(caller, scene, django_assert_num_queries):
    area = make_area()
    caller.get("/inspections")
    for rows in (3, 27):
        for _ in range(rows):
            machine = make_machine(area=area)
            make_signed_inspection(machine, scene.procedure, by=scene.technician)
            report_fault(machine, title="Leaks", severity="other", by=scene.technician, at=NOON)
        for path in ("/inspections", "/findings"):
            with django_assert_num_queries(5):  # token, permission, sites of the owner, count, rows
                assert len(caller.items(path, page_size=100)) >= rows


def test_an_inspection_takes_as_many_queries_with_all_readings_as_with_none(caller, scene, django_assert_num_queries):
    caller.get(f"/inspections/{scene.inspection.pk}")
    for _ in range(2):
        with django_assert_num_queries(8):  # three for the token; inspection, retests, steps, readings, results
            assert caller.get(f"/inspections/{scene.inspection.pk}").status_code == 200
        scene.sweep()


def test_another_machine_on_the_bench_does_not_mix_with_this_one(caller, scene):
    other = make_open_inspection(make_machine(area=scene.machine.area), scene.procedure, by=scene.technician)
    assert other.steps.count() == len(caller.get(f"/inspections/{other.pk}").json()["steps"])
    assert Instrument.objects.count() == len(caller.items("/instruments"))
