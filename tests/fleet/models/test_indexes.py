from django.db import connection
from django.db.models import Count

from fleet.models import AwayPeriod, ChangeEntry, Component, CurrentState, FeatureState, Job, JournalEntry, Machine
from fleet.models.components import SORTED
from tests.factories import NOON, TODAY
from tests.index_plans import index_names, unused


def test_one_index_holds_all_that_a_fleet_report_reads_of_a_feature_state(db):
    """A report over 5,000 machines reads 150,000 states; reading only the index takes half the time."""
    with connection.cursor() as cursor:
        found = connection.introspection.get_constraints(cursor, FeatureState._meta.db_table).values()
    read = ["machine_id", "feature", "state", "from_date", "until_date"]
    assert read in [each["columns"] for each in found if each["index"]]


def queries():
    """By index, the query that it is there for; every one of them is asked by a page, a job or an action."""
    changes = ChangeEntry.objects.filter(record="machine", record_pk=1)
    entries = JournalEntry.objects.filter(table="fleet_site", row__in=[1, 2])
    fitted = FeatureState.objects.filter(feature="o2-analyser", state="fitted", from_date__lte=TODAY)
    states = FeatureState.objects.on(TODAY).filter(machine__in=[1, 2]).order_by()
    rows = CurrentState.objects.not_retired().values_list("pk", flat=True)
    recorded = FeatureState.objects.filter(recorded_at__gte=NOON).exclude(evidence="model default")
    staged = Machine.with_staged.exclude(staged="").filter(staged__lt="2026")
    return {
        "away_by_expected": AwayPeriod.objects.overdue(TODAY).order_by("expected_on"),
        "change_by_record": changes,
        **{f"component_{name}": Component.objects.order_by(name, "pk").values("pk") for name in SORTED},
        "component_numbered": Component.objects.numbered("7").order_by().values("pk"),
        "component_by_lot": Component.objects.filter(kind="regulator").order_by(),  # a safety notice
        "current_by_area": rows.filter(area=1).order_by("machine"),
        "current_by_day": CurrentState.objects.filter(holds_from__gt=TODAY).order_by(),
        "current_by_due": CurrentState.objects.filter(next_due_on__lt=TODAY).order_by("next_due_on", "asset_number"),
        "current_searched": CurrentState.objects.with_text("7", None).order_by("searched").values("searched"),
        "current_by_gaps": CurrentState.objects.not_retired()
        .order_by()
        .values("gaps", "doubts")
        .annotate(n=Count("*")),
        "current_by_missing": rows.order_by("missing", "asset_number"),
        "current_by_model": rows.filter(model=1).order_by("machine"),
        "current_by_most_missing": rows.order_by("-missing", "asset_number"),
        "current_by_number": rows.order_by("asset_number"),
        "feature_state_by_feature": fitted.order_by(),
        "feature_state_by_machine": states.values_list("machine", "feature", "state"),
        "feature_state_recorded": recorded.order_by("-recorded_at", "-pk"),
        "job_by_person": Job.objects.filter(by=1).order_by("-asked_at"),
        "job_by_stage": Job.objects.waiting().oldest_first(),
        "journal_by_row": entries.order_by("row", "id"),
        "machine_by_area": Machine.objects.in_service().filter(area=1).order_by(),
        "machine_by_duty": Machine.objects.in_service().order_by("asset_number"),
        "machine_by_staged": staged.order_by(),
        "machine_searched": Machine.objects.found_by("12").order_by().values("pk"),
    }


def test_every_index_is_there_for_a_query_and_the_database_uses_it(db):
    assert queries().keys() == index_names("fleet")
    assert unused(queries()) == set()
