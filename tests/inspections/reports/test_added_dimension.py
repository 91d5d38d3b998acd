"""A dimension that is added to the table is carried from the instrument to the printed record by that one entry."""

from datetime import timedelta
from io import StringIO

import pytest
from django.core.management import call_command
from django.urls import reverse

from fleet.models import Instrument, InstrumentScale
from fleet.register_file.confined_reading import parse_apart
from inspections.actions import reasons_against_signing
from inspections.at_bench.evaluation import Evaluator
from inspections.bench import TESTS, Dimension, NoChallenge, Test
from inspections.bench.declarations import ResultSpec
from inspections.bench.measuring import Bench
from inspections.bench.serialise import test_to_dict as declaration_of
from inspections.bench.specs import limit, reading
from inspections.models import Reading
from inspections.reports.record import write_record
from tests.factories import NOON, make_instrument, make_person
from tests.fleet.catalogue.added import added
from tests.inspections.scenes import make_scene

PROCEDURE = """
code = "yearly"
title = "Dial"
[[step]]
code = "dial"
title = "Torque of the dial"
test = "dial-torque"
[[step.limit]]
key = "torque"
rule = "ours"
title = "Ours"
upper = 1500
unit = "mNm"
source = "Procedure of the test"
basis = "local"
"""
SCALE = {"dimension": "torque", "unit": "Nm", "low": "0", "high": "10", "resolution": "0.01"}
ACCURACY = {"of_reading_percent": "1", "of_span_percent": "0", "absolute": "0", "coverage_factor": "2"}
UNTOUCHED = {"unit": "kPa", "of_reading_percent": "0", "of_span_percent": "0", "absolute": "0", "coverage_factor": "2"}


def declared():
    """A bench test of the added dimension, declared as the shipped ones are."""

    def evaluate(sheet, context):
        bench = Bench(test, sheet, context)
        torque = bench.value("torque")
        results = () if torque is None else (bench.result("torque", torque.estimate),)
        return bench.finish(results)

    torque = Dimension("torque")
    test = Test(
        code="dial-torque", family="vaporizers", title="Torque of the dial", purpose="Find it.", cautions=(),
        readings=(reading("torque", "Torque", torque, judges=("torque",)),), tables=(), choices=(), rated=(),
        results=(ResultSpec("torque", "Torque", torque, "Nm", "as read", NoChallenge("a test")),),
        default_limits=(limit("torque", "most", "At most 2 Nm", (None, 2), "Nm", "a test", "-", "local"),),
        source="a test", evaluate=evaluate,
    )  # fmt: skip
    return test


@pytest.fixture
def scene(db, tmp_path, monkeypatch, time_machine):
    time_machine.move_to(NOON, tick=False)
    with added():
        monkeypatch.setattr("inspections.bench.registry.TESTS", {**TESTS, "dial-torque": declared()})
        yield make_scene(tmp_path, text=PROCEDURE)


@pytest.fixture
def reads_here(monkeypatch):
    """Read files in this process: the one that reads them otherwise knows nothing of the added dimension."""

    def run(function, *arguments, limits, answer, pulse):
        return parse_apart(*arguments, ask=answer)

    monkeypatch.setattr("fleet.imports.reading.run_confined", run)


def enter(client, scene, value, **settings):
    data = {"slot": "torque", "torque": value} | {f"torque:{key}": text for key, text in settings.items()}
    return client.post(scene.url("reading_enter", "dial"), data, headers={"HX-Request": "true"})


def test_an_instrument_of_it_is_entered_by_form_and_by_file(scene, client, tmp_path, reads_here):
    client.force_login(make_person("planner"))
    data = {"code": "T-1", "name": "Torque gauge", "serial": "", "site": scene.machine.site.pk}
    data |= {"scales-TOTAL_FORMS": "3", "scales-INITIAL_FORMS": "0"}
    for number, fields in enumerate(({**SCALE, **ACCURACY}, UNTOUCHED, UNTOUCHED)):
        data |= {f"scales-{number}-{name}": value for name, value in fields.items()}
    assert client.post(reverse("fleet:instrument_add"), data).status_code == 302
    page = client.get(Instrument.objects.get(code="T-1").get_absolute_url()).content.decode()
    assert "Torque" in page and "Nm" in page
    file = tmp_path / "instruments.csv"
    head = "code,name,site,measures,unit,low,high,resolution"
    file.write_text(f"{head}\nT-2,Gauge,{scene.machine.site.code},Torque,newton metre,0,10,0.1\n", encoding="utf-8")
    call_command("import_register", str(file), kind="instruments", stdout=StringIO())
    scale = InstrumentScale.objects.get(instrument__code="T-2")
    assert (scale.dimension, scale.unit) == ("torque", "Nm")
    scale.full_clean()


def test_a_reading_of_it_is_entered_evaluated_signed_and_printed(scene, client, words_of):
    gauge = make_instrument(site=scene.machine.site, scales=[{**SCALE, "of_reading_percent": 1}])
    client.force_login(scene.technician)
    assert "mNm" in client.get(scene.step("dial").get_absolute_url()).content.decode()
    answer = enter(client, scene, "1.25", unit="Nm", instrument=gauge.pk)
    assert (answer.status_code, answer["Bench-Answer"]) == (200, "kept")
    assert "mNm" in answer.text and "pass" in answer.text
    inspection = scene.sign(at=NOON + timedelta(hours=1))
    words = " ".join(words_of(write_record(inspection, [])))
    assert f"1.25 Nm {gauge.code}" in words
    assert "mNm" in words and "Procedure of the test" in words


def test_a_reading_of_it_without_an_instrument_or_below_zero_is_never_a_pass(scene, client):
    client.force_login(scene.technician)
    enter(client, scene, "1.25", unit="Nm")
    assert any("name the instrument" in reason for reason in reasons_against_signing(scene.inspection))
    enter(client, scene, "-0.12", unit="Nm")
    result = Evaluator(scene.inspection).evaluate(scene.step("dial"))
    assert "is below zero" in result.error and not result.decisions


def test_an_implausible_reading_of_it_is_refused_with_what_is_accepted(scene, client):
    client.force_login(scene.technician)
    answer = enter(client, scene, "99999", unit="Nm")
    assert answer.status_code == 422 and "0 to 500 Nm" in answer.text
    assert not Reading.objects.exists()


def test_its_declaration_names_it_with_its_units(scene):
    (spec,) = declaration_of(declared())["readings"]
    assert (spec["dimension"], spec["units"], spec["needs_instrument"]) == ("torque", ["Nm", "mNm"], True)
