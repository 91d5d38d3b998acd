"""What another limit would have made of signed results, asked on a page; the records stay as they are."""

import json
from dataclasses import replace
from urllib.parse import urlencode

import pytest
from django.urls import reverse

from inspections.bench import get_test, to_si
from inspections.bench.limits import LOCAL, Limit
from inspections.deciding.other_limit import under_other_limit
from inspections.models import Result
from tests.factories import (
    NOON,
    bench_result,
    make_area,
    make_machine,
    make_person,
    make_signed_inspection,
    make_site,
)
from tests.inspections.scenes import FAILING

TRIP = {"result": "supply-failure/trip_pressure", "rule": "", "lower": "20", "upper": "24", "unit": "psi"}


def at_most(psi):
    return Limit("trip_pressure", "tried", "Tried", None, to_si(psi, "psi"), "psi", "here", "-", LOCAL)


@pytest.fixture
def signed(scene):
    """A trip pressure near 25 psi that passed, and one near 39 psi that failed."""
    scene.complete()
    first = scene.sign()
    scene.again(at=NOON)
    scene.complete(FAILING)
    return first, scene.sign()


@pytest.fixture
def ask(client, scene):
    def asked(person=None, **query):
        client.force_login(person or make_person("manager"))
        return client.get(
            f"{reverse('inspections:other_limit')}?{urlencode(query)}" if query else "/library/limits/try/"
        )

    return asked


def test_a_result_that_passed_would_newly_fail_and_one_that_failed_is_not_counted_again(scene, signed):
    passed = Result.objects.get(step__inspection=signed[0], key="trip_pressure")
    assert passed.decision.endswith("pass")
    found = under_other_limit(scene.technician, "supply-failure", at_most(20))
    assert found.judged == 2 and found.failing == (passed.pk,)
    assert {(one.was, one.would_be, one.count) for one in found.changes} == {
        (passed.decision, "fail", 1), ("fail", "fail", 1),
    }  # fmt: skip


def test_the_limit_that_judged_a_result_decides_it_as_it_is_on_record(scene, signed):
    for inspection in signed:
        for result in Result.objects.filter(step__inspection=inspection).exclude(margin=None):
            limit = result.shown.result.limit
            found = under_other_limit(scene.technician, result.step.test_code, limit)
            kept = sum(one.count for one in found.changes if one.was == one.would_be == result.decision)
            assert kept, (result, result.decision, found.changes)


def test_what_was_not_put_to_the_test_is_judged_by_no_limit(scene):
    results = [bench_result(key="trip_pressure", decision=word) for word in ("not tested", "not decided", "pass")]
    failed = replace(bench_result(key="trip_pressure", decision="fail"), margin_si=None)
    for result in (*results, failed):
        make_signed_inspection(scene.machine, by=scene.technician, steps=[{"results": [result]}])
    found = under_other_limit(scene.technician, "supply-failure", at_most(20))
    assert (found.judged, found.unjudgeable, len(found.failing)) == (1, 3, 1)


def test_what_was_measured_too_coarsely_for_one_limit_may_be_decided_by_another(scene):
    coarse = replace(bench_result(key="trip_pressure", decision="not decided"), reason="measure closer")
    make_signed_inspection(scene.machine, by=scene.technician, steps=[{"results": [coarse]}])
    found = under_other_limit(scene.technician, "supply-failure", at_most(20))
    assert (found.judged, found.unjudgeable, len(found.failing)) == (1, 0, 1)


def test_only_so_many_are_looked_at_and_the_rest_is_counted(db):
    technician = make_person("technician")
    for _ in range(5):
        make_signed_inspection(by=technician, steps=[{"results": [bench_result(key="trip_pressure")]}])
    found = under_other_limit(technician, "supply-failure", at_most(1), most=3)
    assert (found.judged, found.left_out, len(found.failing)) == (3, 2, 3)
    assert list(found.failing) == sorted(found.failing, reverse=True)


def test_the_page_names_the_results_and_changes_nothing(ask, scene, signed):
    before = list(Result.objects.order_by("pk").values())
    page = ask(**TRIP).text
    assert "1 would newly fail" in page and signed[0].get_absolute_url() in page
    assert str(scene.machine) in page
    assert json.dumps(before, default=str) == json.dumps(list(Result.objects.order_by("pk").values()), default=str)


def test_somebody_of_another_site_sees_none_of_it(ask, signed):
    page = ask(make_person("manager", sites=[make_site(name="Elsewhere")]), **TRIP).text
    assert "No signed result of this kind" in page


@pytest.mark.parametrize(
    ("changed", "says"),
    [
        ({"upper": "", "lower": ""}, "either a published rule or your own values"),
        ({"unit": "L/min"}, "does not measure that"),
        ({"lower": "30"}, "the lower not above the upper"),
        ({"rule": "oxygen-flush/flush_flow/us-35-75"}, "another result"),
        ({"result": "supply-failure/nothing"}, "not one of the available choices"),
        ({"upper": "nan"}, "is not a number. Write digits"),
    ],
)
def test_a_limit_that_cannot_be_is_refused_with_what_is_accepted(ask, changed, says):
    answer = ask(**TRIP | changed)
    assert answer.status_code == 200 and says in answer.text and "newly fail" not in answer.text


def test_a_published_rule_can_be_tried(ask, signed):
    rule = {"result": "supply-failure/trip_pressure", "lower": "", "upper": "", "unit": ""}
    first = next(one for one in get_test("supply-failure").default_limits if one.key == "trip_pressure")
    answer = ask(**rule, rule=f"supply-failure/trip_pressure/{first.rule}")
    assert answer.status_code == 200 and "0 would newly fail" in answer.text


def test_many_pages_of_failing_results_cost_the_same_queries(client, db, django_assert_max_num_queries):
    technician = make_person("technician")
    machine = make_machine(area=make_area(make_site()))
    for _ in range(30):
        make_signed_inspection(machine, by=technician, steps=[{"results": [bench_result(key="trip_pressure")]}])
    client.force_login(make_person("manager"))
    with django_assert_max_num_queries(14):
        page = client.get("/library/limits/try/", TRIP | {"upper": "1", "lower": ""}).text
    assert "1 to 25 of 30" in page
