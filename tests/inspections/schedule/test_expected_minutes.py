"""Minutes of a procedure on a model: from signed inspections, else from a rule; never more than two queries."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from inspections.actions import add_planning_rule
from inspections.models import Inspection, Procedure
from inspections.schedule.expected_minutes import LAST, NOTHING_SAYS, expected_minutes
from tests.factories import (
    NOON,
    TODAY,
    load_all_procedures,
    make_machine,
    make_model,
    make_person,
    make_signed_inspection,
)


@pytest.fixture
def yearly(db):
    load_all_procedures()
    return Procedure.objects.get(code="yearly")


def signed_in(minutes, machine, procedure, by):
    """Signed inspections of a machine that took so long, the first the oldest."""
    for number, value in enumerate(minutes):
        at = NOON - timedelta(days=len(minutes) - number)
        inspection = make_signed_inspection(machine, procedure, by=by, at=at)
        Inspection.objects.filter(pk=inspection.pk).update(minutes=value)


def rule(procedure, by, minutes, reach="all", target=None):
    add_planning_rule(
        procedure=procedure, reach=reach, target=target, interval_months=12, window_days=28, minutes=minutes,
        from_date=TODAY, reason="Committee", reference=f"Policy for {reach}", source="policy", by=by, at=NOON,
    )  # fmt: skip


def test_the_median_of_the_last_ones_says_how_many_they_are(yearly):
    by, machine = make_person("technician"), make_machine()
    signed_in([500] * 5 + list(range(1, LAST)) + [None, 400], machine, yearly, by)
    pair = (yearly.pk, machine.model_id)
    found = expected_minutes({pair}, on=TODAY)[pair]
    # By hand: the last 20 with minutes are 1 to 19 and 400; the middle two are 10 and 11, and 10.5 is rounded to even.
    assert (found.value, found.number) == (10, 20)
    assert found.source_words == "median of the last 20 signed inspections"


def test_a_rule_speaks_where_nothing_was_signed_and_that_of_the_model_first(yearly):
    by, machine, other = make_person("planner"), make_machine(), make_machine()
    rule(yearly, by, 90)
    rule(yearly, by, 60, "model", machine.model)
    half = Procedure.objects.get(code="half-yearly")
    pairs = {(yearly.pk, machine.model_id), (yearly.pk, other.model_id), (half.pk, other.model_id)}
    found = expected_minutes(pairs, on=TODAY)
    assert found[yearly.pk, machine.model_id].value == 60
    assert "Policy for model" in found[yearly.pk, machine.model_id].source_words
    assert (found[yearly.pk, other.model_id].value, found[yearly.pk, other.model_id].number) == (90, 0)
    assert found[half.pk, other.model_id] == NOTHING_SAYS
    signed_in([45], other, yearly, by)
    after = expected_minutes(pairs, on=TODAY)[yearly.pk, other.model_id]
    assert (after.value, after.source_words) == (45, "the last signed inspection")


def test_many_pairs_take_two_queries(yearly):
    pairs = {(yearly.pk, make_model().pk) for _ in range(10)}
    with CaptureQueriesContext(connection) as asked:
        assert len(expected_minutes(pairs, on=TODAY)) == 10
    assert len(asked) == 2
    assert expected_minutes(set()) == {}
