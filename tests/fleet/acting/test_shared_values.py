"""Values read together are those that Django reads one by one."""

from fleet.acting.shared_values import shared_values
from fleet.models import FeatureState, Machine, StatusChange
from tests.factories import make_machine, make_model

NAMES = {
    Machine: ("pk", "asset_number", "in_use_from", "built_year", "model__gases", "area__site"),
    StatusChange: ("machine", "status", "changed_on", "recorded_at", "by"),
    FeatureState: ("machine", "feature", "from_date", "until_date", "recorded_at"),
}


def test_rows_are_as_a_queryset_returns_them(db):
    model = make_model(features={"o2-analyser": "fitted", "ratio-protection": "not fitted"})
    for _ in range(3):
        make_machine(model=model)
    for of, names in NAMES.items():
        rows = of._base_manager.order_by("pk")
        assert len(rows) >= 3
        assert [tuple(row) for row in shared_values(rows, *names)] == list(rows.values_list(*names))


def test_a_query_without_rows_has_none(db):
    assert list(shared_values(Machine.objects.filter(pk__in=[]), "pk")) == []
    assert list(shared_values(Machine.objects.filter(pk=-1), "pk", "in_use_from")) == []
