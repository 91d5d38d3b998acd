"""A page of a long list is the same from either end of it."""

import django_tables2 as tables
import pytest

from fleet.models import Site
from fleet.views.keys_first import KeysFirst
from tests.factories import make_site


class SiteTable(tables.Table):
    class Meta:
        model = Site
        fields = ("name",)


@pytest.mark.parametrize("order", ["code", "-altitude_m", "pk"])
def test_the_pages_are_those_of_the_rows_in_one_order(db, order):
    for number in range(11):
        make_site(altitude_m=number % 3)
    rows = Site.objects.order_by(order)
    data = KeysFirst(rows, lambda some: some)
    SiteTable(data)
    whole = [row.pk for row in (rows if order != "-altitude_m" else rows.order_by(order, "pk"))]
    paged = [row.pk for first in range(0, 11, 4) for row in data[first : first + 4]]
    assert paged == whole
