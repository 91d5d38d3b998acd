import pytest
from django.db import connection

from fleet.models import FeatureState
from inspections.kept.due_dates import EVERY
from inspections.kept_counts.work_counts import areas_booked
from inspections.models import (
    CriterionJudgement,
    FaultReport,
    Finding,
    Inspection,
    InspectionStep,
    KeptDueDate,
    KeptReview,
    Proposal,
    Reading,
    Result,
    TrendForecast,
    UserCheck,
)
from tests.factories import NOON, TODAY
from tests.index_plans import index_names, unused

SHORT_CODES = [
    (FeatureState, "feature"),
    (InspectionStep, "code"),
    (InspectionStep, "test_code"),
    (Result, "key"),
    (Reading, "field"),
    (Reading, "column"),
]


@pytest.mark.parametrize(("model", "column"), SHORT_CODES)
def test_a_code_that_thousands_of_rows_share_has_no_index_of_its_own(db, model, column):
    """It finds too many rows to help: SQLite took 90 ms by it to find last time's step, and each reading wrote two."""
    with connection.cursor() as cursor:
        found = connection.introspection.get_constraints(cursor, model._meta.db_table).values()
    assert [column] not in [each["columns"] for each in found]


def queries():
    """By index, the query that it is there for; every one of them is asked by a page, a job or an action."""
    latest = CriterionJudgement.objects.filter(machine=1, criterion="A1").order_by("-at")
    of_machine = Inspection.objects.filter(machine=1, stage="signed").order_by("-signed_at")
    first_user = UserCheck.objects.by_first_user().filter(machine=1).since(NOON)
    unsigned_by_one = Inspection.objects.awaiting_countersignature().not_signed_by(1)
    return {
        "completion_incomplete": Inspection.objects.incomplete().order_by(),
        "fault_report_by_machine": FaultReport.objects.filter(machine=1).reported_since(NOON).order_by(),
        "fault_report_by_state": FaultReport.objects.waiting().order_by("reported_at", "pk"),
        "finding_by_machine": Finding.objects.open().filter(machine=1).order_by(),
        "finding_open_worst_first": Finding.objects.open().essential().worst_first(),
        "inspection_booked_by_day": Inspection.objects.booked().order_by("booked_on").values("pk"),
        "inspection_by_booking": Inspection.objects.booked_between(TODAY, TODAY).order_by(),
        "inspection_by_machine": of_machine,
        "inspection_by_procedure": Inspection.objects.filter(procedure=1)
        .planned()
        .filter(due_on__lte=TODAY)
        .order_by(),
        "inspection_by_signature": Inspection.objects.with_signature().order_by("-signed_at", "-pk").values("pk"),
        "inspection_by_technician": Inspection.objects.open().filter(technician=1).order_by(),
        "inspection_of_due_date": Inspection.objects.filter(machine=1, procedure=1, due_on=TODAY).order_by(),
        "inspection_open_by_due": Inspection.objects.planned().filter(due_on__lte=TODAY).order_by(),
        "inspection_open_by_end": Inspection.objects.overdue(TODAY).order_by(),
        "inspection_to_countersign": unsigned_by_one.order_by("-signed_at", "-pk").values("pk"),
        "judgement_latest": latest,
        "kept_count_by_day": areas_booked.__wrapped__(TODAY, TODAY, 1),
        "kept_due_by_answer": KeptDueDate.objects.filter(**EVERY, closes_on__lte=TODAY).order_by().values("answer"),
        "kept_due_by_day": KeptDueDate.objects.filter(closes_on__lte=TODAY).order_by("closes_on", "pk").values("pk"),
        "kept_review_by_cover": KeptReview.objects.filter(cover=1).order_by(),
        "kept_review_by_day": KeptReview.objects.not_of(TODAY).order_by(),
        "kept_review_by_place": KeptReview.objects.by_place(),
        "proposal_by_state": Proposal.objects.waiting().filter(act="release").order_by(),
        "reading_by_step": Reading.objects.current().filter(step=1).order_by(),
        "reading_contested": Reading.objects.contested().filter(step=1).order_by(),
        "step_with_later_set": Finding.objects.repaired().order_by(),
        "trend_by_advice": TrendForecast.objects.to_watch().order_by(),
        "user_check_by_machine": first_user.order_by("at", "pk"),
    }


def test_every_index_is_there_for_a_query_and_the_database_uses_it(db):
    assert queries().keys() == index_names("inspections")
    assert unused(queries()) == set()
