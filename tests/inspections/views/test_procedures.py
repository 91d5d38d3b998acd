"""Procedures, bench tests, protections and limits set here."""

from datetime import timedelta

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from fleet.catalogue import FEATURES
from inspections.bench import TESTS, get_test
from inspections.models import LimitOverride, Procedure
from tests.decisions import decision, send
from tests.factories import (
    NOON,
    PASSWORD,
    TODAY,
    load_all_procedures,
    make_model,
    make_person,
    make_procedure,
    make_site,
)

TRIP = next(spec.key for spec in get_test("supply-failure").results if spec.label == "Trip pressure")
TEXT = """
code = "short"
title = "Short check"
[[step]]
code = "one"
title = "First look"
test = "supply-failure"
"""


@pytest.fixture(autouse=True)
def at_noon():
    with time_machine.travel(NOON, tick=False):
        yield


@pytest.fixture
def planner(client, db):
    planner = make_person("planner")
    client.force_login(planner)
    return planner


def text(client, url, **query):
    response = client.get(url, query)
    assert response.status_code == 200
    return response.content.decode()


def test_the_library_leads_to_its_four_parts(client, planner):
    page = text(client, "/library/")
    for part in ("/library/procedures/", "/library/tests/", "/library/protections/", "/library/limits/"):
        assert part in page


def test_without_procedures_the_list_says_how_to_load_them(client, planner):
    assert "load_procedures" in text(client, "/library/procedures/")


@pytest.mark.parametrize("code", ["yearly", "half-yearly", "return-to-service"])
def test_a_procedure_shows_every_step_with_its_limits_and_sources(client, planner, code):
    load_all_procedures()
    procedure = Procedure.objects.get(code=code)
    page = text(client, procedure.get_absolute_url())
    assert page.count("<h3>") == len(procedure.current_version().content["step"])
    assert "Basis:" in page and "Essential: a failed result proposes withdrawal" in page


def test_an_older_version_stays_readable(client, planner, tmp_path):
    procedure = make_procedure(TEXT, directory=tmp_path)
    make_procedure(TEXT.replace("First look", "Second look"), directory=tmp_path)
    assert "Second look" in text(client, procedure.get_absolute_url())
    older = text(client, procedure.get_absolute_url(), version=1)
    assert "First look" in older and "An older version" in older
    assert client.get(procedure.get_absolute_url(), {"version": "9"}).status_code == 404


@pytest.mark.parametrize("code", TESTS)
def test_a_bench_test_shows_readings_results_conventions_and_limits(client, planner, code):
    page, test = text(client, f"/library/tests/{code}/"), TESTS[code]
    assert page.count("Stated as:") == len(test.results)
    assert page.count("Basis:") == len(test.default_limits)


def test_an_unknown_test_is_not_found(client, planner):
    assert client.get("/library/tests/no-such-test/").status_code == 404


def test_every_protection_of_the_catalogue_is_shown_with_its_source(client, planner):
    page = text(client, "/library/protections/")
    assert all(f'id="{code}"' in page for code in FEATURES)
    assert page.count("Source:") >= len(FEATURES)


def limit_data(**fields):
    return {"result": f"supply-failure/{TRIP}", "lower": "26", "unit": "psi",
            "reason": "The manufacturer sets it higher", "source": "Service manual, section 7",
            "from_date": TODAY, "password": PASSWORD, **fields}  # fmt: skip


def test_a_limit_is_set_listed_and_ended(client, planner):
    model = make_model()
    send(client, "/library/limits/add/", limit_data(machine_model=model.pk))
    limit = LimitOverride.objects.get()
    assert (limit.machine_model, limit.lower, limit.by, limit.at) == (model, 26, planner, NOON)
    assert "at least 26 psi" in text(client, "/library/limits/")
    send(client, f"/library/limits/{limit.pk}/end/", decision(until_date=TODAY))
    assert "at least 26 psi" not in text(client, "/library/limits/")
    assert "at least 26 psi" in text(client, "/library/limits/", view="all")


def test_a_limit_can_name_a_published_rule(client, planner):
    rule = next(one for one in get_test("supply-failure").default_limits if one.key == TRIP)
    named = f"supply-failure/{TRIP}/{rule.rule}"
    send(client, "/library/limits/add/", limit_data(site=make_site().pk, rule=named, lower="", unit=""))
    assert LimitOverride.objects.get().rule == rule.rule
    assert rule.title in text(client, "/library/limits/")


@pytest.mark.parametrize(
    "fields, says",
    [
        ({"machine_model": ""}, "Choose either a machine model or a site"),
        ({"lower": ""}, "Enter either a published rule or your own values"),
        ({"unit": ""}, "Values need a unit"),
        ({"unit": "L/min"}, "does not measure that"),
        ({"lower": "30", "upper": "20"}, "lower not above the upper"),
        ({"lower": "nan"}, "is not a number"),
        ({"reason": " "}, "This field is required"),
        ({"from_date": TODAY - timedelta(days=1)}, "is in the past"),
        ({"rule": "supply-failure/alarm_pressure/x"}, "valid choice"),
    ],
)
def test_a_limit_that_cannot_be_is_told_and_not_kept(client, planner, fields, says):
    response = send(client, "/library/limits/add/", limit_data(**{"machine_model": make_model().pk, **fields}))
    assert says in response.content.decode() and not LimitOverride.objects.exists()


def test_an_ended_limit_is_not_ended_again(client, planner):
    send(client, "/library/limits/add/", limit_data(machine_model=make_model().pk))
    limit = LimitOverride.objects.get()
    for days in (0, 5):
        response = send(client, f"/library/limits/{limit.pk}/end/", decision(until_date=TODAY + timedelta(days=days)))
    limit.refresh_from_db()
    assert limit.until_date == TODAY and "already has an end date" in response.content.decode()


def test_somebody_narrowed_to_a_site_sets_and_ends_limits_of_that_site_only(client, planner):
    send(client, "/library/limits/add/", limit_data(machine_model=make_model().pk))
    of_model, site = LimitOverride.objects.get(), make_site()
    client.force_login(make_person("planner", sites=[site]))
    assert client.get(f"/library/limits/{of_model.pk}/end/").status_code == 404
    send(client, "/library/limits/add/", limit_data(machine_model=make_model().pk))
    assert LimitOverride.objects.count() == 1
    send(client, "/library/limits/add/", limit_data(site=site.pk))
    assert LimitOverride.objects.filter(site=site).count() == 1


def test_the_lists_ask_as_many_queries_for_many_as_for_few(client, planner, tmp_path, django_assert_num_queries):
    def add(first, last):
        for number in range(first, last):
            make_procedure(TEXT.replace("short", f"short-{number}"), directory=tmp_path)
            send(client, "/library/limits/add/", limit_data(machine_model=make_model().pk))

    add(0, 3)
    few = {}
    for url in ("/library/procedures/", "/library/limits/"):
        client.get(url)
        with CaptureQueriesContext(connection) as captured:
            client.get(url)
        few[url] = len(captured)
    add(3, 25)
    for url, number in few.items():
        with django_assert_num_queries(number):
            client.get(url)
