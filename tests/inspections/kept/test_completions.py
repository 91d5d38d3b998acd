"""What the lists call incomplete is what the signed steps say; a stored answer that is wrong is found and mended."""

from datetime import timedelta

import pytest
from django.core.management import CommandError, call_command

from fleet.acting.scope import outside_actions
from fleet.actions import request_job
from fleet.jobs.running import run_waiting_job
from inspections.kept.completions import compare_completions, mend_completions
from inspections.kept.job import KEPT_ROWS
from inspections.models import Completion, Inspection
from tests.factories import NOON, bench_result, make_inspection, make_person, make_signed_inspection
from tests.query_plans import asked

pytestmark = pytest.mark.renewed_at_once
UNTESTED = {"code": "flush", "title": "Flush", "is_essential": True, "not_tested_reason": "No flowmeter", "results": []}
TESTED = {**UNTESTED, "not_tested_reason": "", "results": [bench_result(decision="pass", key="flow")]}


@pytest.fixture
def incomplete(db):
    make_signed_inspection(by=make_person("technician"), at=NOON, steps=[TESTED])
    return make_signed_inspection(by=make_person("technician"), at=NOON, steps=[UNTESTED])


def falsified(inspection):
    with outside_actions():
        Completion.objects.filter(pk=inspection.pk).update(is_complete=True)


def test_the_stored_answer_is_that_of_the_signed_steps(incomplete):
    assert list(Inspection.objects.incomplete()) == [incomplete] == list(Inspection.objects.incomplete_by_steps())
    assert list(compare_completions()) == []


def test_a_wrong_answer_is_found_and_mended_and_its_day_stays(incomplete):
    falsified(incomplete)
    Completion.objects.update(signed_on=NOON.date() - timedelta(days=1))
    (found,) = compare_completions()
    assert (found.machine, found.key, found.words) == (incomplete.machine_id, incomplete.pk, "differed in is_complete")
    assert not Inspection.objects.incomplete().exists()  # the comparison changed nothing
    assert mend_completions() == [found] and list(compare_completions()) == []
    assert Completion.objects.get(pk=incomplete.pk).signed_on == NOON.date() - timedelta(days=1)


def test_an_answer_that_is_missing_proves_nothing(incomplete):
    planned = make_inspection()
    Completion.objects.all().delete()
    shown = {one.pk: one.is_incomplete for one in Inspection.objects.with_result()}
    assert shown.pop(planned.pk) is False and list(shown.values()) == [True, True]
    assert not Inspection.objects.complete().exists()


def test_an_answer_that_is_missing_is_stored(incomplete):
    Completion.objects.all().delete()
    assert [one.words for one in mend_completions()] == ["had no row"] * 2
    assert list(Inspection.objects.incomplete()) == [incomplete] and Inspection.objects.complete().count() == 1


def test_the_nightly_job_and_the_command_compare_it(incomplete, capsys):
    falsified(incomplete)
    with pytest.raises(CommandError, match="without --check"):
        call_command("kept_rows", check=True)
    assert "completions: differed in is_complete." in capsys.readouterr().out
    job = request_job(KEPT_ROWS, title="Renew", params={}, by=None, at=NOON)
    run_waiting_job(job.pk, clock=lambda: NOON, pulse=False)
    job.refresh_from_db()
    assert job.result.endswith("1 completions were not as recorded, and are renewed.")
    assert list(compare_completions()) == []


def test_comparing_many_takes_as_many_queries_as_comparing_one(incomplete, django_assert_num_queries):
    with django_assert_num_queries(2):
        assert list(compare_completions()) == []


def test_the_heading_reads_no_step(client, incomplete):
    client.force_login(make_person("planner"))
    statements = asked(client, "/inspections/?view=incomplete")
    assert [sql for sql in statements if "is_complete" in sql]
    assert not [sql for sql in statements if '"inspections_inspectionstep"."not_tested_reason" = ' in sql]
