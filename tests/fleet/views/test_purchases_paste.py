"""A pasted list of purchases is saved as a whole, or refused with each wrong line."""

from datetime import date
from decimal import Decimal

import pytest
from django.urls import reverse

from fleet.actions import choose_currency
from fleet.models import MachinePurchase
from tests.factories import NOON, make_area, make_machine, make_person, make_site


@pytest.fixture
def manager(client, db):
    person = make_person("manager")
    client.force_login(person)
    return person


@pytest.fixture
def area(manager):
    area = make_area()
    choose_currency(area.site, "EUR", by=manager, at=NOON)
    for name in ("A-1", "A-2", "A-3"):
        make_machine(asset_number=name, area=area)
    return area


def paste(client, *lines):
    return client.post(reverse("fleet:purchases_paste"), {"lines": "\n".join(lines), "source": "Ledger of 2026"})


def test_a_list_of_semicolons_or_tabs_is_saved_and_what_is_not_known_stays_so(client, area):
    assert paste(client, "A-1; 2019-04-01; 31500.50", "", "A-2\t\t28000", "A-3;2020-01-02;").status_code == 302
    rows = MachinePurchase.objects.order_by("machine__asset_number").values_list("bought_on", "price", "currency")
    assert list(rows) == [
        (date(2019, 4, 1), Decimal("31500.50"), "EUR"),
        (None, Decimal(28000), "EUR"),
        (date(2020, 1, 2), None, "EUR"),
    ]


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("nobody; 2019-04-01; 5", "is no machine that you may see"),
        ("A-1; 2019-04-01; 5", "is in the list twice"),
        ("A-2; ; ", "neither day nor price"),
        ("A-2; 2019-13-01; 5", "Line 2"),
        ("A-2; 2019-04-01; five", "Line 2"),
        ("A-2; 2019-04-01; -5", "0 or more"),
        ("A-2; 2019-04-01; 5.005", "more digits than the currency"),
        ("A-2; 2019-04-01; 5; 6", "more than asset number"),
    ],
)
def test_one_wrong_line_is_named_and_nothing_is_saved(client, area, line, said):
    response = paste(client, "A-1; 2019-04-01; 31500", line)
    assert response.status_code == 200 and said in response.content.decode()
    assert not MachinePurchase.objects.exists()


def test_machines_of_another_site_are_refused(client, area):
    client.force_login(make_person("manager", sites=[make_site()]))
    assert "is no machine that you may see" in paste(client, "A-1; 2019-04-01; 5").content.decode()


def test_an_auditor_may_not_paste(client, area):
    client.force_login(make_person("auditor"))
    assert paste(client, "A-1; 2019-04-01; 5").status_code == 403


def test_a_long_list_asks_no_more_queries_than_a_short_one(client, area, django_assert_max_num_queries):
    for n in range(20):
        make_machine(asset_number=f"B-{n}", area=area)
    with django_assert_max_num_queries(40):
        paste(client, *(f"B-{n}; 2019-04-01; {n}" for n in range(20)))
