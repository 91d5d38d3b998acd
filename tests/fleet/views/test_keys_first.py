"""A page of a long list is the same from either end of it."""

import django_tables2 as tables
import pytest

from fleet.models import Area, Site
from fleet.views.keys_first import Groups, KeysFirst
from tests.factories import make_area, make_site


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


@pytest.mark.parametrize("order", [("altitude_m", "pk"), ("-altitude_m",), ("name", "-pk"), ("areas__name", "pk")])
def test_rows_read_in_parts_are_the_same_as_read_at_once(db, order):
    for number in range(11):
        make_site(altitude_m=number % 3)
    rows = Site.objects.order_by(*order)
    parts = {metres: 0 for metres in range(3)}

    def by_altitude(some):
        for metres in parts:
            parts[metres] += 1
        return [some.filter(altitude_m=metres) for metres in parts]

    at_once, merged = (KeysFirst(rows, lambda some: some, parts=one) for one in (None, by_altitude))
    for data in (at_once, merged):
        SiteTable(data)
    for first in range(0, 11, 4):
        assert [row.pk for row in merged[first : first + 4]] == [row.pk for row in at_once[first : first + 4]]
    assert set(parts.values()) == ({0} if "areas__name" in order else {3})  # a name elsewhere is in no part's order


@pytest.mark.parametrize(
    "order", [("areas__name", "pk"), ("-areas__name", "pk"), ("-areas__name", "-pk"), ("name", "pk")]
)
@pytest.mark.parametrize("sizes", [(1, 2), (3, 5), (100,)])
def test_rows_looked_for_group_by_group_are_the_same_as_sorted(db, monkeypatch, order, sizes):
    monkeypatch.setattr("fleet.views.keys_first.MANY", 5)
    monkeypatch.setattr("fleet.views.keys_first.NEAR", 6)
    for number in range(12):
        make_area(name=f"Theatre {number * 5 % 12:02}", site=make_site(altitude_m=number % 3))
    looked = []

    def within(rows, keys):
        looked.append(len(keys))
        return rows.filter(areas__in=keys)

    groups = {("areas__name", "pk"): Groups(Area.objects.order_by("name"), within, sizes)}
    rows = Site.objects.filter(altitude_m__lt=2).order_by(*order)  # so that some groups have none
    sorted_, looked_for = (KeysFirst(rows, lambda some: some, groups=one) for one in (None, groups))
    for data in (sorted_, looked_for):
        SiteTable(data)
    for first in range(0, 8, 2):
        assert [row.pk for row in looked_for[first : first + 2]] == [row.pk for row in sorted_[first : first + 2]]
    assert bool(looked) == (order[0] != "name")
