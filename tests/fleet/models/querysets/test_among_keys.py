"""Rows among some keys are those that `in` finds, at any number of keys, with one value for all of them."""

import pytest

from fleet.models import Area, CurrentState, Machine
from fleet.models.querysets.among_keys import among
from tests.factories import make_machine

pytestmark = pytest.mark.django_db


def test_rows_among_keys_are_those_that_in_finds():
    machines = [make_machine() for _ in range(4)]
    many = range(machines[0].pk, machines[0].pk + 100_000)
    for keys in ([], [machines[0].pk], [machines[3].pk, machines[1].pk, machines[1].pk, 10**9], many):
        wanted = list(Machine.objects.filter(pk__in=list(keys)[:2_000]).values_list("pk", flat=True))
        assert list(Machine.objects.filter(among("pk", keys)).values_list("pk", flat=True)) == wanted
    areas = [one.area_id for one in machines[:2]]
    assert Machine.objects.filter(among("area", areas)).count() == Machine.objects.filter(area__in=areas).count() > 0
    sites = [machines[0].area.site_id]
    assert list(Area.objects.filter(among("site", sites))) == list(Area.objects.filter(site__in=sites))
    assert list(Machine.objects.exclude(among("pk", [machines[0].pk]))) == machines[1:]


def test_all_keys_are_one_value():
    _, values = CurrentState.objects.filter(among("pk", range(500))).order_by().query.sql_with_params()
    assert len(values) == 1


def test_what_is_no_key_is_refused():
    for number in (1, 100):
        with pytest.raises(ValueError, match="invalid literal|expected a number"):
            Machine.objects.filter(among("pk", ["1) OR (1"] * number))
