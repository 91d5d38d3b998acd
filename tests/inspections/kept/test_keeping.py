"""Kept rows are what the records say after any action, and are used only while they are."""

from datetime import timedelta

import pytest
from django.core.management import CommandError, call_command

from fleet.acting.scope import outside_actions
from fleet.actions import request_job
from fleet.jobs.running import run_waiting_job
from inspections.actions import void_inspection
from inspections.kept.due_dates import DUE_DATES
from inspections.kept.job import KEPT_ROWS
from inspections.kept.keeping import compare, fill, holds, renew
from inspections.kept.kinds import KINDS, after_migrations
from inspections.kept.reviews import REVIEWS
from inspections.models import KeptDueDate, KeptReview, KeptRules
from tests.factories import NOON, TODAY, make_inspection, make_machine, make_person

pytestmark = pytest.mark.renewed_at_once


@pytest.fixture
def missed(db):
    """A due date that nobody met, with the rows of today."""
    fill(REVIEWS, at=NOON, day=TODAY)
    return make_inspection(due_on=TODAY - timedelta(days=100))


def row(inspection):
    assert holds(DUE_DATES)
    return KeptDueDate.objects.get(pk=inspection.pk)


def test_a_planned_inspection_has_its_row_and_voiding_it_renews_the_row(missed):
    was = row(missed)
    assert (was.answer, was.closes_on, was.machine, was.site) == (
        "open", missed.closes_on, missed.machine, missed.machine.site,
    )  # fmt: skip
    void_inspection(missed, reason="Not found", by=make_person("planner"), at=NOON)
    assert row(missed).answer == "voided"


def test_a_row_altered_outside_of_actions_is_found_and_mended(missed):
    holds(DUE_DATES)
    with outside_actions():
        KeptDueDate.objects.update(answer="late")
    (found,) = compare(DUE_DATES)
    assert (found.machine, found.key, found.words) == (missed.machine_id, missed.pk, "differed in answer")
    assert row(missed).answer == "late"
    assert fill(DUE_DATES, at=NOON) == [found] and row(missed).answer == "open"


def test_a_row_too_many_and_a_row_that_is_missing_are_mended(missed):
    gone, other = make_inspection(), make_inspection()
    holds(DUE_DATES)
    with outside_actions():
        KeptDueDate.objects.filter(pk=gone.pk).delete()
        type(other).objects.filter(pk=other.pk).delete()  # with its row
        KeptDueDate.objects.filter(pk=missed.pk).update(inspection=gone)
    assert sorted(one.words for one in fill(DUE_DATES, at=NOON)) == [
        "differed in machine_id, area_id, site_id, due_on, closes_on",
        "had no row",
    ]
    assert set(KeptDueDate.objects.values_list("pk", flat=True)) == {missed.pk, gone.pk}


def test_rows_of_other_rules_are_neither_used_nor_renewed_until_they_are_filled(missed):
    assert holds(DUE_DATES)
    KeptRules.objects.filter(kind=DUE_DATES.name).update(rules="others")
    another = make_inspection(missed.machine)
    assert not holds(DUE_DATES) and not KeptDueDate.objects.filter(pk=another.pk).exists()
    after_migrations(_App, using="default")
    assert row(another).answer == "open"


class _App:
    label = "inspections"


def test_dated_rows_are_used_on_their_day_only(missed):
    assert holds(REVIEWS, TODAY) and not holds(REVIEWS, TODAY + timedelta(days=1))
    assert len(fill(REVIEWS, at=NOON, day=TODAY + timedelta(days=1))) == 1
    assert holds(REVIEWS, TODAY + timedelta(days=1)) and not holds(REVIEWS, TODAY)


def test_rows_are_not_used_while_they_are_filled_for_another_day(missed):
    later, seen = TODAY + timedelta(days=1), []

    def each(batches):
        for keys in batches:
            seen.append(holds(REVIEWS, TODAY) or holds(REVIEWS, later))
            yield keys

    fill(REVIEWS, at=NOON, day=later, each=each)
    assert seen == [False] and holds(REVIEWS, later)


def test_renewing_many_machines_takes_as_many_queries_as_renewing_one(missed, django_assert_num_queries):
    machines = [missed.machine_id, *(make_inspection(make_machine()).machine_id for _ in range(3))]
    holds(DUE_DATES)
    for kind, queries in ((DUE_DATES, 2), (REVIEWS, 13)):  # the rows there, and those that should be there
        with django_assert_num_queries(queries):
            assert renew(kind, machines, TODAY) == []


def test_the_nightly_job_mends_due_dates_and_makes_the_reviews_of_the_day(missed):
    holds(DUE_DATES)
    KeptDueDate.objects.update(answer="late")
    job = request_job(KEPT_ROWS, title="Renew", params={}, by=None, at=NOON)
    run_waiting_job(job.pk, clock=lambda: NOON + timedelta(days=1), pulse=False)
    job.refresh_from_db()
    renewed = "1 due dates were not as recorded, and are renewed. 1 reviews renewed."
    renewed += " 0 counts were not as recorded, and are renewed."
    assert job.result == f"{renewed} 0 completions were not as recorded, and are renewed."
    assert row(missed).answer == "open" and holds(REVIEWS, TODAY + timedelta(days=1))


def test_the_command_compares_or_mends(missed, capsys):
    holds(DUE_DATES)
    call_command("kept_rows")
    call_command("kept_rows", check=True)
    assert "Due dates: 0 differ." in capsys.readouterr().out
    KeptDueDate.objects.update(answer="late")
    with pytest.raises(CommandError, match="without --check"):
        call_command("kept_rows", check=True)
    assert "due dates: differed in answer." in capsys.readouterr().out
    call_command("kept_rows")
    assert "Due dates: 1 renewed." in capsys.readouterr().out and row(missed).answer == "open"


def test_every_kind_names_where_its_rows_come_from():
    for kind in KINDS:
        assert kind.ways and len(kind.rules()) == 16 and kind.model._meta.get_field("machine")
    assert KeptReview in {kind.model for kind in KINDS}
