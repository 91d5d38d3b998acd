"""The cost of a machine year follows from hours, spare parts and contract; what is not known is never zero."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.urls import reverse

from fleet.actions import choose_currency
from fleet.models import CostRate, ServiceContract, SparePartCost
from inspections.actions import close_finding, report_fault
from inspections.retirement.machine_costs import costs_of
from inspections.review.burden import window_start
from tests.factories import NOON, TODAY, make_machine, make_person
from tests.fleet.money_rows import enter


@pytest.fixture
def machine(db):
    machine = make_machine()
    choose_currency(machine.site, "EUR", by=make_person("manager"), at=NOON)
    return machine


def costs(machine):
    return costs_of([machine], TODAY)[machine.pk]


def line(machine, title):
    return next(each for each in costs(machine).lines if each.title == title)


def mend(machine, hours):
    by = make_person("technician")
    finding = report_fault(machine, title="Sticks", severity="other", by=by, at=NOON - timedelta(days=30))
    close_finding(finding, note="Mended", work_hours=hours, by=by, at=NOON - timedelta(days=20))


def test_the_cost_of_a_year_is_the_sum_worked_by_hand(machine):
    # two years: 3 h at 60 = 180, parts 40.50, contract 1,000 a year for 730 days = 1,998.63; a year half of it
    first = window_start(TODAY)
    enter(CostRate, site=machine.site, hour_cost=Decimal(60), from_date=first)
    enter(SparePartCost, machine=machine, what="Hose", cost=Decimal("40.50"), bought_on=TODAY)
    enter(ServiceContract, machine=machine, provider="Works", yearly_cost=Decimal(1000), from_date=first)
    mend(machine, Decimal(3))
    found = costs(machine)
    days = (TODAY - first).days + 1
    contract = (Decimal(1000) * days / Decimal("365.25")).quantize(Decimal("0.01"))
    assert found.known == Decimal("220.50") + contract
    assert found.yearly == (found.known * Decimal("365.25") / days).quantize(Decimal(1)) == Decimal(1110)


def test_a_finding_that_does_not_say_its_hours_makes_the_cost_not_known(machine):
    enter(CostRate, site=machine.site, hour_cost=Decimal(60), from_date=window_start(TODAY))
    mend(machine, None)
    assert line(machine, "Work on findings").amount is None
    assert "1 of 1 closed findings do not say" in line(machine, "Work on findings").words
    assert costs(machine).yearly is None


def test_hours_on_a_day_before_any_rate_make_the_cost_not_known(machine):
    enter(CostRate, site=machine.site, hour_cost=Decimal(60), from_date=TODAY)
    mend(machine, Decimal(2))
    assert "No hourly rate" in line(machine, "Work on findings").words


def test_the_rate_of_the_day_of_the_work_counts(machine):
    enter(CostRate, site=machine.site, hour_cost=Decimal(60), from_date=window_start(TODAY))
    enter(CostRate, site=machine.site, hour_cost=Decimal(90), from_date=TODAY)
    mend(machine, Decimal(2))
    assert line(machine, "Work on findings").amount == Decimal("120.00")


def test_a_contract_of_the_machine_comes_before_one_of_its_model(machine):
    first = window_start(TODAY)
    enter(ServiceContract, model=machine.model, site=machine.site, provider="All", yearly_cost=9, from_date=first)
    enter(ServiceContract, machine=machine, provider="One", yearly_cost=7, from_date=first)
    assert line(machine, "Service contract").words.startswith("One")


def test_a_machine_at_a_site_without_a_currency_has_no_cost(db):
    found = costs(make_machine())
    assert (found.currency, found.yearly) == ("", None)


def test_the_page_says_what_is_known_and_what_is_not(client, machine):
    client.force_login(make_person("manager"))
    mend(machine, None)
    page = client.get(reverse("inspections:machine_money", args=[machine.pk])).content.decode()
    assert "work on findings cannot be added up" in page and "not known" in page


def test_many_machines_ask_no_more_queries_than_one(machine, django_assert_num_queries):
    machines = [machine, *(make_machine(area=machine.area, model=machine.model) for _ in range(3))]
    with django_assert_num_queries(6):
        costs_of(machines, TODAY)
