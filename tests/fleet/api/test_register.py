"""Places, models, machines, instruments and catalogues."""

from datetime import date

import pytest

from fleet.actions import enter_calibration_points, record_feature_state
from fleet.calibration.points import Point, ScalePoints
from fleet.catalogue import FEATURES, HAZARDS
from tests.factories import (
    NOON,
    TODAY,
    make_area,
    make_component,
    make_instrument,
    make_machine,
    make_person,
    make_site,
)

RATIO = "minimum-ratio"


@pytest.fixture
def caller(call_as):
    return call_as("auditor")


@pytest.fixture
def feature():
    return next(iter(FEATURES))


def fitted(machine, code, day, state="fitted"):
    return record_feature_state(
        machine, code, state, from_date=day, evidence="seen", by=make_person("technician"), at=NOON
    )


def test_a_site_tells_its_ambient_pressure_with_the_unit(caller):
    make_site(name="Sea", altitude_m=0)
    row = caller.items("/sites")[0]
    assert row["ambient_pa_abs"] == pytest.approx(101_325)  # US Standard Atmosphere 1976, sea level
    assert row["name"] == "Sea" and row["time_zone"] == "UTC"


def test_an_area_tells_how_many_machines_are_in_service(caller):
    area = make_area(minimum_machines=2)
    make_machine(area=area)
    make_area()
    row = caller.items("/areas", site=area.site_id)[0]
    assert (row["id"], row["in_service"], row["minimum_machines"]) == (area.pk, 1, 2)


def test_machines_are_found_by_place_model_status_and_text(caller):
    machine, other = make_machine(asset_number="A-1"), make_machine(asset_number="B-2")
    for query in ({"site": machine.site.pk}, {"area": machine.area_id}, {"model": machine.model_id}, {"q": "A-1"}):
        assert [row["id"] for row in caller.items("/machines", **query)] == [machine.pk], query
    assert caller.items("/machines", duty="retired") == []
    assert [row["id"] for row in caller.items("/machines", order="-asset_number")] == [other.pk, machine.pk]


def test_machines_are_found_by_the_state_of_a_protection_on_a_date(caller, feature):
    machine = make_machine(features={feature: "not fitted"})
    fitted(machine, feature, date(2026, 6, 1))
    asked = {"feature": feature, "state": "fitted"}
    assert caller.items("/machines", on="2026-05-31", **asked) == []
    assert [row["id"] for row in caller.items("/machines", on="2026-06-01", **asked)] == [machine.pk]
    assert [row["id"] for row in caller.items("/machines", feature=feature, on="2026-05-31")] == [machine.pk]


def test_a_machine_tells_its_protections_and_components_on_a_date(caller, feature):
    machine = make_machine(features={feature: "not fitted"})
    fitted(machine, feature, date(2026, 6, 1))
    make_component(machine, label="Regulator", rated={"set_output": [45, "psi"]}, fitted_on=date(2026, 7, 1))
    now = caller.get(f"/machines/{machine.pk}").json()
    then = caller.get(f"/machines/{machine.pk}", on="2026-05-31").json()
    assert {row["feature"]: row["state"] for row in now["features"]}[feature] == "fitted"
    assert {row["feature"]: row["state"] for row in then["features"]}[feature] == "not fitted"
    assert now["components"][0]["rated"] == [{"key": "set_output", "value": 45.0, "unit": "psi"}]
    assert then["components"] == [] and then["on"] == "2026-05-31"
    assert len(now["features"]) == len(FEATURES)


def test_the_history_of_a_protection_names_who_recorded_it_and_on_what_evidence(caller, feature):
    machine = make_machine(features={feature: "not fitted"})
    fitted(machine, feature, date(2026, 6, 1))
    newest, first = caller.items(f"/machines/{machine.pk}/features", feature=feature)
    assert (newest["state"], newest["evidence"], newest["until_date"]) == ("fitted", "seen", None)
    assert (first["state"], first["until_date"]) == ("not fitted", "2026-06-01")
    assert newest["by"]["name"].startswith("Test Person")


def test_components_that_were_removed_are_listed_too(caller):
    machine = make_machine()
    make_component(machine, label="Old", removed_on=TODAY)
    assert [row["label"] for row in caller.items(f"/machines/{machine.pk}/components")] == ["Old"]


def test_a_model_tells_the_protections_of_a_new_example(caller, feature):
    machine = make_machine(features={feature: "fitted"})
    assert [row["id"] for row in caller.items("/models")] == [machine.model_id]
    assert caller.get(f"/models/{machine.model_id}").json()["features"] == [{"feature": feature, "state": "fitted"}]


def test_instruments_are_found_by_the_standing_of_their_calibration(caller):
    good = make_instrument(due_on=date(2100, 1, 1))
    make_instrument(due_on=date(2026, 2, 1))
    assert [row["id"] for row in caller.items("/instruments", standing="ok")] == [good.pk]
    assert [row["standing"] for row in caller.items("/instruments", q=good.code)] == ["ok"]
    detail = caller.get(f"/instruments/{good.pk}").json()
    assert {scale["dimension"] for scale in detail["scales"]} == {"pressure", "flow", "fraction"}
    assert caller.items(f"/instruments/{good.pk}/calibrations")[0]["due_on"] == "2100-01-01"


def test_an_instrument_of_another_site_is_not_there(call_as):
    caller = call_as("auditor", owner=make_person("auditor", sites=[make_site()]))
    instrument = make_instrument()
    assert caller.items("/instruments") == []
    assert caller.get(f"/instruments/{instrument.pk}").status_code == 404
    assert caller.get(f"/instruments/{instrument.pk}/calibrations").status_code == 404


def test_the_catalogues_are_complete_and_name_their_sources(caller):
    features = caller.items("/features", page_size=100)
    assert [row["code"] for row in features] == list(FEATURES)
    assert all(row["source"]["title"] and row["source"]["basis"] for row in features)
    hazard = next(iter(HAZARDS))
    assert {row["code"] for row in caller.items("/features", hazard=hazard)} == {
        code for code, one in FEATURES.items() if hazard in one.hazards
    }
    assert len(caller.items("/hazards", page_size=100)) == len(HAZARDS)


def test_pages_hold_every_row_once_and_lead_to_each_other(caller):
    numbers = {make_machine().asset_number for _ in range(5)}
    first = caller.get("/machines", page_size=2).json()
    second = caller.client.get(first["next"], headers=caller.headers).json()
    third = caller.client.get(second["next"], headers=caller.headers).json()
    pages = (first, second, third)
    assert sorted(row["asset_number"] for page in pages for row in page["items"]) == sorted(numbers)
    assert (first["count"], first["previous"], third["next"]) == (5, None, None)
    assert third["previous"].endswith("page=2") or "page=2&" in third["previous"]
    assert caller.items("/machines", page=9) == []


@pytest.mark.parametrize(
    ("path", "queries"),  # token, permission, sites of the owner (but for models, which have no site), count, rows
    [("/machines", 5), ("/areas", 6), ("/instruments", 5), ("/sites", 5), ("/models", 4)],
)
def test_a_list_takes_as_many_queries_for_thirty_rows_as_for_three(caller, path, queries, django_assert_num_queries):
    caller.get(path)
    for rows in (3, 27):
        for _ in range(rows):
            make_machine()
            make_instrument()
        with django_assert_num_queries(queries):
            assert len(caller.items(path, page_size=100)) >= rows


def test_a_calibration_comes_with_the_points_of_its_certificate(caller):
    instrument = make_instrument()
    calibration, scale = instrument.calibrations.get(), instrument.scales.first()
    point = Point(reference=100, reading=101, expanded=0.5)
    points = ScalePoints(scale.pk, scale.unit, (point,))
    enter_calibration_points(calibration, points, by=make_person("planner"), at=NOON)
    assert scale.pk in {one["id"] for one in caller.get(f"/instruments/{instrument.pk}").json()["scales"]}
    [read] = caller.items(f"/instruments/{instrument.pk}/calibrations")
    told = {"reference": 100.0, "reading": 101.0, "expanded": 0.5, "k": 2.0, "condition": "both"}
    assert read["points"] == [{"scale": scale.pk, "unit": scale.unit, "points": [told]}]
