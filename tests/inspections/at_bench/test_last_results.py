"""How often a step is evaluated, and that a stored result is never shown when something under it changed."""

from datetime import timedelta

import pytest
from django.core.cache import cache
from django.test import Client
from django.urls import reverse
from redis.exceptions import ConnectionError as CacheDown

from inspections.actions import set_limit_override
from inspections.at_bench import evaluation
from inspections.at_bench.evaluated_steps import evaluate_steps
from inspections.at_bench.last_results import summary_of
from inspections.at_bench.progress import progress_of
from inspections.bench import BenchError
from tests.factories import NOON, TODAY, make_person, make_token
from tests.inspections.scenes import PASSING, make_scene


@pytest.fixture
def scene(db, tmp_path):
    cache.clear()
    scene = make_scene(tmp_path)
    scene.sweep()
    scene.enter("seen", "yes", code="alarm")
    return scene


@pytest.fixture
def evaluated(monkeypatch):
    """The tests that were evaluated, one entry for each time."""
    found, real = [], evaluation.evaluate_by_all

    def counted(test, *rest):
        found.append(test.code)
        return real(test, *rest)

    monkeypatch.setattr(evaluation, "evaluate_by_all", counted)
    return found


@pytest.fixture
def bench(client, scene):
    client.force_login(scene.technician)
    return client


def known(bench, scene, evaluated):
    """Open the page once, so that every step was evaluated before."""
    assert bench.get(scene.step_url).status_code == 200
    evaluated.clear()


def test_a_bench_page_evaluates_the_step_that_it_shows_and_no_other(bench, scene, evaluated):
    known(bench, scene, evaluated)
    first = bench.get(scene.step_url).text
    assert evaluated == ["supply-failure"]
    assert bench.get(scene.step("flush").get_absolute_url()).status_code == 200
    assert evaluated == ["supply-failure", "oxygen-flush"]
    assert first.count("mark-pass") >= 2


def test_a_page_of_checks_evaluates_nothing_that_is_known(bench, scene, evaluated):
    known(bench, scene, evaluated)
    assert bench.get(scene.step("alarm").get_absolute_url()).status_code == 200
    assert evaluated == []


def test_a_reading_that_is_sent_evaluates_once(bench, scene, evaluated):
    known(bench, scene, evaluated)
    name = "full_pressure"
    data = {"slot": name, name: "51", "full_pressure:unit": "psi", "full_pressure:instrument": scene.gauge.pk}
    url = reverse("inspections:reading_enter", args=[scene.step().pk])
    assert bench.post(url, data | {"full_pressure:zero": "gauge"}).status_code == 200
    assert evaluated == ["supply-failure"]
    evaluated.clear()
    assert bench.get(scene.step("flush").get_absolute_url()).status_code == 200
    assert evaluated == ["oxygen-flush"]


def test_a_reading_of_a_program_evaluates_once(bench, scene, evaluated):
    known(bench, scene, evaluated)
    secret = make_token(scene.technician)[1]
    body = {"field": "full_pressure", "as_read": "51", "unit": "psi", "instrument": scene.gauge.code}
    url = reverse("api:reading_enter", args=[scene.step().pk])
    auth = {"Authorization": f"Bearer {secret}"}
    assert Client().post(url, body, content_type="application/json", headers=auth).status_code == 201
    assert evaluated == ["supply-failure"]
    bench.get(scene.step("flush").get_absolute_url())
    assert evaluated == ["supply-failure", "oxygen-flush"]


def test_a_page_for_signing_evaluates_each_step_once(bench, scene, evaluated):
    known(bench, scene, evaluated)
    assert bench.get(reverse("inspections:sign", args=[scene.inspection.pk])).status_code == 200
    assert sorted(evaluated) == ["observation", "oxygen-flush", "supply-failure"]


def test_the_page_of_an_inspection_evaluates_nothing_that_is_known(bench, scene, evaluated):
    known(bench, scene, evaluated)
    assert bench.get(scene.inspection.get_absolute_url()).status_code == 200
    assert evaluated == []


CHANGES = {
    "a reading": lambda s: s.enter("full_pressure", "60", unit="psi", instrument=s.gauge),
    "a cell of a table": lambda s: s.cell(3, "flow", "3.4", unit="L/min", instrument=s.flowmeter),
    "a row of a table": lambda s: s.cell(5, "pressure", "15", unit="psi", instrument=s.gauge),
    "the instrument of a reading": lambda s: s.enter("set_flow", "4.0", unit="L/min"),
    "an answer": lambda s: s.enter("seen", "no", code="alarm"),
    "a scale": lambda s: s.gauge.scales.update(of_reading_percent=9, absolute=3),
    "a scale that cannot be used": lambda s: s.gauge.scales.update(unit="furlong"),
    "a limit": lambda s: set_limit_override(
        test_code="supply-failure", result_key="trip_pressure", lower=45.0, unit="psi", reason="Local rule",
        source="A manual", from_date=TODAY - timedelta(days=9), by=make_person("planner"), at=NOON,
        site=s.machine.site,
    ),
    "the year of build": lambda s: type(s.machine).objects.filter(pk=s.machine.pk).update(built_year=1961),
    "the height of the site": lambda s: type(s.machine.site).objects.update(altitude_m=2100),
    "the temperature": lambda s: type(s.inspection).objects.filter(pk=s.inspection.pk).update(temperature_c=31),
}  # fmt: skip


@pytest.mark.parametrize("change", CHANGES)
def test_what_is_read_is_what_an_evaluation_would_say_now(scene, change):
    progress_of(scene.inspection)
    CHANGES[change](scene)
    inspection = type(scene.inspection).objects.get(pk=scene.inspection.pk)
    now = {step.pk: summary_of(result) for step, (_, result) in evaluate_steps(inspection).results.items()}
    assert {one.step.pk: one.step_result for one in progress_of(inspection).all} == now


def test_a_new_version_of_the_program_is_not_shown_what_an_older_one_computed(scene, evaluated, monkeypatch):
    progress_of(scene.inspection)
    evaluated.clear()
    monkeypatch.setattr("inspections.at_bench.last_results._code_digest", lambda: "another")
    progress_of(scene.inspection)
    assert len(evaluated) == 3


def test_without_a_cache_every_step_is_evaluated_and_the_page_opens(bench, scene, evaluated, monkeypatch):
    def down(*args):
        raise CacheDown("no answer")

    monkeypatch.setattr(cache, "get", down)
    monkeypatch.setattr(cache, "set", down)
    assert bench.get(scene.step_url).status_code == 200
    assert len(evaluated) == 3


def test_the_order_in_which_readings_were_entered_does_not_matter(bench, scene, evaluated):
    for row in reversed(range(len(PASSING))):
        scene.cell(row, "flow", PASSING[row][1], unit="L/min", instrument=None)
    known(bench, scene, evaluated)
    bench.get(scene.step("flush").get_absolute_url())
    assert evaluated == ["oxygen-flush"]


def test_a_step_that_cannot_be_evaluated_says_so_each_time(scene, monkeypatch):
    def fails(*args):
        raise BenchError("set_flow", "It cannot be.")

    monkeypatch.setattr(evaluation, "evaluate_by_all", fails)
    for _ in range(2):
        found = progress_of(scene.inspection).find(scene.step().pk)
        assert (found.step_result.error, found.note) == ("It cannot be.", found.note)
        assert not found.is_done
