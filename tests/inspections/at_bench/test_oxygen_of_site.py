"""The oxygen that supplies a site: entered on its page, taken to the bench, frozen with the record."""

import json
from datetime import timedelta

import pytest
from django.urls import reverse

from fleet.actions import add_site, change_site
from fleet.catalogue.oxygen_supply import SuppliedOxygen
from fleet.errors import RegisterRefused
from fleet.models import Site
from inspections.actions import sign_inspection
from inspections.at_bench.evaluation import Evaluator
from inspections.deciding.grounds.of_signature import signature_grounds
from inspections.models import SignedRecord
from inspections.records.reevaluation import decided_otherwise
from inspections.records.signed_record import ShownRecord
from tests.factories import NOON, make_component, make_person, make_site
from tests.inspections.scenes import make_scene

LATER = NOON + timedelta(hours=2)
ANALYSER = """
code = "yearly"
title = "Analyser"
[[step]]
code = "analyser"
title = "Oxygen analyser"
test = "oxygen-analyser"
"""


@pytest.fixture
def analysed(db, tmp_path):
    """A scene whose analyser shows 89.6 % after the flush: less than is asked for pure oxygen, right for 90 %."""
    scene = make_scene(tmp_path, text=ANALYSER)
    Site.objects.update(rule_set="us")
    for field, text, unit in (
        ("air_reading", "20.9", "%"),
        ("flush_reading", "89.6", "%"),
        ("low_alarm_works", "yes", ""),
    ):
        more = {"unit": unit} if unit else {}
        scene.enter(field, text, code="analyser", **more)
    return scene


def supply(scene, grade="oxygen-93", percent=None):
    change_site(scene.machine.site, oxygen_grade=grade, oxygen_percent=percent, by=scene.other, at=LATER)
    scene.inspection.refresh_from_db()
    return scene


def decision_of(scene):
    inspection = type(scene.inspection).objects.get(pk=scene.inspection.pk)
    found = Evaluator(inspection).evaluate(inspection.steps.get(code="analyser")).evaluation.result("flush_reading")
    return str(found.decision), found.limit.rule


def test_the_limit_after_the_flush_follows_from_the_oxygen_of_the_site(analysed):
    assert decision_of(analysed) == ("fail", "fda93")
    supply(analysed, percent=90.0)
    assert decision_of(analysed) == ("pass", "iso80601-2-55-here")


def test_the_limit_of_the_site_is_of_its_set_and_waits_for_a_confirmation(analysed):
    supply(analysed)
    step = analysed.step("analyser")
    found = Evaluator(analysed.inspection).evaluate(step).evaluation.result("flush_reading")
    assert found.limit.is_confirmed is False
    Site.objects.update(rule_set="own")
    analysed.inspection.machine.site.refresh_from_db()
    found = Evaluator(analysed.inspection).evaluate(step).evaluation.result("flush_reading")
    assert found.limit is None and found.decision is None


def test_a_record_freezes_the_oxygen_of_the_site_and_shows_it(analysed, client):
    supply(analysed, percent=90.0)
    inspection = type(analysed.inspection).objects.get(pk=analysed.inspection.pk)
    sign_inspection(inspection, by=analysed.technician, at=LATER)
    record = ShownRecord(SignedRecord.objects.get())
    assert record.content["conditions"]["oxygen"] == {"grade": "oxygen-93", "percent": 90.0}
    assert "90 % as stated" in record.oxygen_words
    client.force_login(make_person("auditor"))
    page = client.get(inspection.get_absolute_url()).text
    assert "Oxygen supply" in page and "from concentrators; 90 % as stated" in page
    assert "Expected here: 90 %." in page


def test_a_signed_record_is_evaluated_again_by_the_oxygen_of_its_day(analysed):
    inspection = type(analysed.inspection).objects.get(pk=analysed.inspection.pk)
    sign_inspection(inspection, by=analysed.technician, at=LATER)
    assert "oxygen" not in json.loads(SignedRecord.objects.get().content)["conditions"]
    supply(analysed)
    signed = type(inspection).objects.select_related("machine__area__site", "record").get(pk=inspection.pk)
    assert signed.machine.site.oxygen.is_weak
    assert decided_otherwise(signed) == []


def test_what_is_signed_rests_on_the_oxygen_of_the_site(analysed):
    content = {"machine": {"asset_number": "", "model": "", "serial": "", "built_year": 1, "area": "", "site": ""},
               "procedure": {"title": "", "version": 1, "digest": ""}, "steps": [], "instruments": [],
               "conditions": {"ambient_pa_abs": 1e5, "temperature_c": 20.0}}  # fmt: skip
    evaluated = type("Evaluated", (), {"steps": [], "results": {}, "readings": {}})()
    assert "Oxygen supply" not in signature_grounds(analysed.inspection, content, evaluated)["Conditions"]
    content["conditions"]["oxygen"] = {"grade": "oxygen-93", "percent": None}
    grounds = signature_grounds(analysed.inspection, content, evaluated)["Conditions"]
    assert "percentage not stated" in grounds["Oxygen supply"]


@pytest.mark.parametrize(
    ("types", "expected"), [([], ""), (["piston"], "piston"), (["bellows", "piston"], ""), (["bellows"] * 2, "bellows")]
)
def test_the_ventilator_on_record_is_known_where_all_are_of_one_type(analysed, types, expected):
    for number, kind in enumerate(types):
        make_component(analysed.machine, kind="ventilator", label=f"Ventilator {number}", options={"type": kind})
    evaluator = Evaluator(analysed.inspection)
    test = type("Test", (), {"asks": ("ventilator",), "features": ()})()
    assert evaluator._recorded(test) == {"ventilator": expected}


class TestSite:
    def test_a_planner_states_it_and_the_change_is_recorded(self, client, db):
        site, planner = make_site(), make_person("planner")
        client.force_login(planner)
        edit = reverse("fleet:site_edit", args=[site.pk])
        data = {"name": site.name, "altitude_m": "0", "time_zone": "UTC", "oxygen_grade": "oxygen-93"}
        assert client.post(edit, {**data, "oxygen_percent": "93,4"}).status_code == 302
        site.refresh_from_db()
        assert site.oxygen.fraction == pytest.approx(0.934)
        assert "Oxygen 93, 90 to 96 %, from concentrators: 93.4 % stated" in client.get(reverse("fleet:sites")).text
        changes = client.get(f"/changes/site/{site.pk}/").text
        assert "Oxygen supply" in changes and "93.4" in changes

    def test_a_form_of_an_earlier_release_leaves_it_as_it_is(self, client, db):
        site = make_site(oxygen_grade="oxygen-93", oxygen_percent=92.0)
        client.force_login(make_person("planner"))
        data = {"name": "Other", "altitude_m": "0", "time_zone": "UTC"}
        assert client.post(reverse("fleet:site_edit", args=[site.pk]), data).status_code == 302
        site.refresh_from_db()
        assert (site.name, site.oxygen_grade, site.oxygen_percent) == ("Other", "oxygen-93", 92.0)

    def test_a_percentage_outside_the_grade_is_refused(self, client, db):
        site = make_site()
        client.force_login(make_person("planner"))
        data = {
            "name": site.name,
            "altitude_m": "0",
            "time_zone": "UTC",
            "oxygen_grade": "oxygen",
            "oxygen_percent": "93",
        }
        page = client.post(reverse("fleet:site_edit", args=[site.pk]), data)
        assert "Accepted: 99.5 to 100 %" in page.text
        with pytest.raises(RegisterRefused, match=r"Accepted: 90 to 96 %"):
            change_site(site, oxygen_grade="oxygen-93", oxygen_percent=97.0, by=None, at=NOON)
        with pytest.raises(RegisterRefused, match="does not fit"):
            add_site(code="n", name="N", oxygen_percent=50.0, by=None, at=NOON)
        site.refresh_from_db()
        assert site.oxygen == SuppliedOxygen()
