import pytest
from django.db import connection

from fleet.models import FeatureState
from inspections.models import InspectionStep, Outcome, Reading

SHORT_CODES = [
    (FeatureState, "feature"),
    (InspectionStep, "code"),
    (InspectionStep, "test_code"),
    (Outcome, "key"),
    (Reading, "field"),
    (Reading, "column"),
]


@pytest.mark.parametrize(("model", "column"), SHORT_CODES)
def test_a_code_that_thousands_of_rows_share_has_no_index_of_its_own(db, model, column):
    """It finds too many rows to help: SQLite took 90 ms by it to find last time's step, and each reading wrote two."""
    with connection.cursor() as cursor:
        found = connection.introspection.get_constraints(cursor, model._meta.db_table).values()
    assert [column] not in [each["columns"] for each in found]
