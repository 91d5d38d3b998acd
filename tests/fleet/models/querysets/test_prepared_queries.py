"""A prepared query finds what the query itself finds, for any value, and is compiled once."""

from datetime import UTC, date, datetime

import pytest
from django.db import DEFAULT_DB_ALIAS, connections
from django.db.models import Exists, OuterRef

from fleet.models import Area, Calibration, Instrument, Person, Site
from fleet.models.querysets.prepared_queries import prepared
from tests.factories import make_instrument, make_machine, make_person

pytestmark = pytest.mark.django_db


@prepared
def areas_named(site, name):
    return Area.objects.filter(site=site, name=name).select_related("site")


@prepared
def calibrated_by(day):
    done = Calibration.objects.filter(instrument=OuterRef("pk"), calibrated_on__lte=day)
    return Instrument.objects.annotate(is_calibrated=Exists(done)).order_by("code").prefetch_related("scales")


@prepared
def joined_before(moment):
    return Person.objects.filter(date_joined__lt=moment).values_list("username", "is_active")


def test_each_value_finds_its_own_rows_with_what_is_read_beside_them(django_assert_num_queries):
    here, there = make_machine().area, make_machine().area
    with django_assert_num_queries(2):
        found = [areas_named(area.site_id, area.name) for area in (here, there)]
        assert [[(area, area.site) for area in areas] for areas in found] == [
            [(here, here.site)],
            [(there, there.site)],
        ]
    assert areas_named(here.site_id, "nowhere") == []


def test_days_moments_annotations_and_prefetches_are_those_of_the_query(django_assert_num_queries):
    instrument = make_instrument()
    first = instrument.calibrations.latest("calibrated_on").calibrated_on
    for day in (first, date(1990, 1, 1)):
        wanted = {one.pk: one.is_calibrated for one in calibrated_by.__wrapped__(day)}
        assert {one.pk: one.is_calibrated for one in calibrated_by(day)} == wanted
    scales = list(instrument.scales.all())
    with django_assert_num_queries(2):
        assert [list(one.scales.all()) for one in calibrated_by(first)] == [scales]
    person = make_person()
    assert joined_before(datetime(2100, 1, 1, tzinfo=UTC)) == [(person.username, True)]
    assert joined_before(person.date_joined) == []


def test_the_query_is_put_together_once():
    asked = []

    @prepared
    def sites_coded(code):
        asked.append(code)
        return Site.objects.filter(code=code)

    site = make_machine().site
    assert [sites_coded(code) for code in (site.code, "none", site.code)] == [[site], [], [site]]
    assert len(asked) == 1


def test_rows_are_read_anew_each_time():
    area = make_machine().area
    assert areas_named(area.site_id, area.name) == [area]
    Area.objects.filter(pk=area.pk).update(name="Renamed")
    assert areas_named(area.site_id, area.name) == []
    assert areas_named(area.site_id, "Renamed") == [area]


@pytest.mark.parametrize("value", [None, 1.5, ["a list"], object()])
def test_a_value_that_a_place_does_not_take_is_refused(value):
    with pytest.raises(TypeError, match="name must be a whole number, a text, a day or a moment, got"):
        areas_named(1, value)


def test_a_value_too_few_is_refused():
    with pytest.raises(ValueError, match="shorter"):
        areas_named(1)


def test_another_connection_compiles_for_itself():
    areas_named(1, "any")
    known = connections[DEFAULT_DB_ALIAS].prepared_queries
    compiled = known.pop(areas_named)
    assert areas_named(1, "any") == []
    assert known[areas_named] is not compiled
