"""Components that are due: chosen and ordered in the database as the plain function says."""

from datetime import date, timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleet.actions import remove_component
from inspections.actions import enter_meter_reading, set_component_life, withdraw_meter_reading
from inspections.errors import Refused
from inspections.models import ComponentLife, MeterReading
from inspections.schedule.parts_due import PartsWithLife
from tests.factories import NOON, TODAY, make_component, make_machine, make_person, make_site

FITTED = date(2026, 10, 1)


def life(by, kind="battery", value=36, unit="months", model=None, from_date=TODAY):
    return set_component_life(
        kind=kind, life=value, unit=unit, machine_model=model, source="manufacturer", reference="Manual, page 9",
        reason="It loses capacity", from_date=from_date, by=by, at=NOON,
    )  # fmt: skip


@pytest.fixture
def by(db):
    return make_person("planner")


def due(day=TODAY):
    parts = PartsWithLife(TODAY)
    return list(parts.due_by(parts.components(), day).order_by("due_month", "due_day", "pk"))


def test_only_what_has_a_life_and_is_in_place_falls_due(by):
    machine = make_machine()
    old = make_component(machine, kind="battery", fitted_on=TODAY - timedelta(days=36 * 31))
    make_component(machine, kind="battery", fitted_on=TODAY)
    make_component(machine, kind="gauge", fitted_on=date(2001, 1, 1))
    assert due() == []
    life(by)
    assert due() == [old]
    remove_component(old, removed_on=TODAY, by=by, at=NOON)
    assert due() == []


def test_the_life_of_a_model_comes_before_that_of_all(by):
    own, other = make_machine(), make_machine()
    for machine in (own, other):
        make_component(machine, kind="battery", fitted_on=FITTED)
    life(by, value=12)
    life(by, value=1, model=own.model)
    assert [one.machine for one in due(TODAY)] == [own]


def test_a_replaced_component_begins_again(by):
    machine = make_machine()
    life(by, value=12)
    worn = make_component(machine, kind="battery", fitted_on=date(2020, 1, 1))
    remove_component(worn, removed_on=TODAY, by=by, at=NOON)
    new = make_component(machine, kind="battery", fitted_on=TODAY)
    parts = PartsWithLife(TODAY)
    assert [parts.due(one).on for one in parts.components()] == [date(2027, 11, 2)] and new.pk != worn.pk


def test_hours_are_decided_by_readings_only(by):
    life(by, kind="ventilator", value=100, unit="hours")
    component = make_component(make_machine(), kind="ventilator", fitted_on=FITTED)
    parts = PartsWithLife(TODAY)
    rows = parts.components()
    assert (list(parts.undecided(rows)), due()) == ([component], [])
    wrong = enter_meter_reading(component, unit="hours", used=800, read_on=TODAY, by=by, at=NOON)
    assert due() == [component]
    with pytest.raises(Refused, match="does not fit 800 on"):
        enter_meter_reading(component, unit="hours", used=80, read_on=TODAY, by=by, at=NOON)
    withdraw_meter_reading(wrong, by=by, at=NOON)
    enter_meter_reading(component, unit="hours", used=80, read_on=TODAY, by=by, at=NOON)
    assert due() == [] and list(parts.by_meter(rows)) == [component]
    enter_meter_reading(component, unit="cycles", used=900, read_on=TODAY, by=by, at=NOON)
    assert due() == []


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"read_on": FITTED - timedelta(days=1)}, "Accepted: 1 Oct 2026 to 2 Nov 2026"),
        ({"read_on": TODAY + timedelta(days=1)}, "Accepted: 1 Oct 2026 to 2 Nov 2026"),
        ({"unit": "months"}, "hours or cycles"),
    ],
)
def test_a_reading_that_cannot_be_is_refused(by, fields, said):
    component = make_component(make_machine(), kind="ventilator", fitted_on=FITTED)
    with pytest.raises(Refused, match=said):
        enter_meter_reading(component, by=by, at=NOON, **{"unit": "hours", "used": 8, "read_on": TODAY, **fields})


def test_a_new_life_ends_the_earlier_one_of_its_scope(by):
    first, second = life(by), life(by, value=24)
    first.refresh_from_db()
    assert (first.until_date, second.until_date) == (TODAY, None)
    with pytest.raises(Refused, match="in the past"):
        life(by, from_date=TODAY - timedelta(days=1))


SLOW = settings(
    max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)


@SLOW
@given(
    lives=st.lists(st.tuples(st.integers(1, 60), st.booleans()), min_size=1, max_size=3),
    fitted=st.lists(st.dates(date(2021, 1, 1), TODAY), min_size=1, max_size=4),
    ahead=st.integers(0, 700),
)
def test_the_database_chooses_and_orders_as_the_plain_function_says(by, lives, fitted, ahead):
    ComponentLife.objects.all().delete()
    machine, day = make_machine(), TODAY + timedelta(days=ahead)
    for months, is_of_model in lives:
        life(by, kind="battery", value=months, model=machine.model if is_of_model else None)
    made = [make_component(machine, kind="battery", fitted_on=one) for one in fitted]
    parts = PartsWithLife(TODAY)
    rows = parts.components().filter(machine=machine)
    dates = {one.pk: parts.due(one).on for one in rows}
    assert dates.keys() == {one.pk for one in made}
    chosen = list(parts.due_by(rows, day).order_by("due_month", "due_day", "pk"))
    assert {one.pk for one in chosen} == {pk for pk, on in dates.items() if on <= day}
    ordered = [dates[one.pk] for one in chosen]
    assert all((a.year, a.month) <= (b.year, b.month) for a, b in zip(ordered, ordered[1:], strict=False))


def test_the_list_is_for_the_sites_of_the_person_and_asks_a_fixed_number_of_queries(client, by):
    life(by, value=1)
    here, there = make_machine(), make_machine()
    person = make_person("planner", sites=[here.site])
    for machine in (here, there):
        make_component(machine, kind="battery", label=f"Battery of {machine}", fitted_on=date(2020, 1, 1))
    client.force_login(person)

    def ask():
        with CaptureQueriesContext(connection) as asked:
            page = client.get(reverse("inspections:parts_due"))
        return page, len(asked)

    page, few = ask()
    assert f"Battery of {here}" in page.text and f"Battery of {there}" not in page.text
    for number in range(10):
        make_component(make_machine(area=here.area), kind="battery", label=f"{number}", fitted_on=date(2020, 1, 1))
    assert ask()[1] == few


def test_a_technician_enters_and_withdraws_a_reading_on_its_page(client, by):
    life(by, kind="ventilator", value=100, unit="hours")
    component = make_component(make_machine(), kind="ventilator", fitted_on=FITTED)
    url = reverse("inspections:meter_readings", args=[component.pk])
    client.force_login(make_person("technician"))
    client.post(url, {"unit": "hours", "used": "20", "read_on": FITTED.isoformat()})
    reading = MeterReading.objects.get()
    assert "20 hours" in client.get(url).text
    client.post(reverse("inspections:meter_withdraw", args=[reading.pk]))
    assert "withdrawn by" in client.get(url).text
    client.force_login(make_person("auditor"))
    assert client.get(url).status_code == 403
    client.force_login(make_person("technician", sites=[make_site()]))
    assert client.get(url).status_code == 404
