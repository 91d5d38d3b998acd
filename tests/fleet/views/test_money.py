"""Prices and costs are entered by the manager, read by all who read the register, and never in another currency."""

from decimal import Decimal

import pytest
from django.urls import reverse

from fleet.actions import choose_currency, withdraw_amount
from fleet.errors import MoneyRefused
from fleet.models import CostRate, MachinePurchase, ReplacementPrice, ServiceContract, SparePartCost
from fleet.views.money import KINDS
from tests.factories import NOON, make_machine, make_model, make_person, make_site
from tests.fleet.money_rows import DAY, enter, make_money_rows


@pytest.fixture
def manager(client, db):
    person = make_person("manager")
    client.force_login(person)
    return person


@pytest.fixture
def machine(manager):
    machine = make_machine()
    choose_currency(machine.site, "EUR", by=manager, at=NOON)
    return machine


def send(client, kind, **data):
    return client.post(reverse("fleet:money_add", args=[kind]), {"source": "Invoice 7", **data})


def test_a_purchase_is_stored_in_the_currency_of_the_site_to_the_cent(client, machine):
    response = send(client, "purchases", machine=machine.asset_number, bought_on="2019-04-01", price="31500.55")
    assert response.status_code == 302
    row = MachinePurchase.objects.get()
    assert (row.price, row.currency, row.source) == (Decimal("31500.55"), "EUR", "Invoice 7")


def test_a_purchase_whose_price_is_not_known_stays_not_known(client, machine):
    send(client, "purchases", machine=machine.asset_number, bought_on="2019-04-01", price="")
    assert MachinePurchase.objects.get().price is None
    assert "price not known" in client.get(reverse("fleet:money_list", args=["purchases"])).content.decode()


@pytest.mark.parametrize(
    ("kind", "data", "said"),
    [
        ("purchases", {"bought_on": "", "price": ""}, "Enter the day, the price, or both"),
        ("purchases", {"price": "-1"}, "greater than or equal to 0"),
        ("purchases", {"price": "1.005"}, "more digits than the currency"),
        ("spare-parts", {"what": "Hose", "cost": "4", "bought_on": "2026-01-02", "machine": "nobody"}, "is no machine"),
        ("spare-parts", {"what": "Hose", "cost": "4", "bought_on": "2026-01-02", "source": ""}, "required"),
        ("contracts", {"provider": "W", "yearly_cost": "9", "from_date": "2026-02-01", "until_date": "2026-01-01"},
         "before the first"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_with_a_sentence(client, machine, kind, data, said):
    response = send(client, kind, **{"machine": machine.asset_number, **data})
    assert response.status_code == 200 and said in response.content.decode()
    assert not KINDS[kind].model.objects.exists()


def test_a_site_without_a_currency_takes_no_amount(client, manager):
    machine = make_machine()
    response = send(client, "purchases", machine=machine.asset_number, price="5")
    assert "No currency is chosen" in response.content.decode()


def test_a_contract_is_for_one_machine_or_for_a_model_at_a_site(client, machine):
    data = {"provider": "Works", "yearly_cost": "900", "from_date": "2026-01-01"}
    both = send(client, "contracts", machine=machine.asset_number, model=machine.model.pk, site=machine.site.pk, **data)
    assert "either one machine" in both.content.decode()
    send(client, "contracts", model=machine.model.pk, site=machine.site.pk, **data)
    assert ServiceContract.objects.reaching(machine).get().machine is None


def test_the_currency_of_a_site_with_amounts_cannot_be_changed(machine, manager):
    enter(CostRate, site=machine.site, hour_cost=Decimal(60), from_date=DAY)
    with pytest.raises(MoneyRefused, match="reckons in EUR"):
        choose_currency(machine.site, "USD", by=manager, at=NOON)
    withdraw_amount(CostRate.objects.get(), reason="Wrong", by=manager, at=NOON)
    assert choose_currency(machine.site, "USD", by=manager, at=NOON).currency == "USD"


def test_a_withdrawn_amount_counts_no_longer_and_cannot_be_withdrawn_again(client, machine, manager):
    row = enter(SparePartCost, machine=machine, what="Hose", cost=Decimal(41), bought_on=DAY)
    url = reverse("fleet:money_withdraw", args=["spare-parts", row.pk])
    assert client.post(url, {"reason": "Another machine"}).status_code == 302
    assert not SparePartCost.objects.in_force().exists()
    assert client.post(url, {"reason": "Again"}).status_code == 404
    with pytest.raises(MoneyRefused, match="already"):
        withdraw_amount(row, reason="Again", by=manager, at=NOON)


def test_a_person_of_one_site_sees_no_amount_of_another(client, machine, manager):
    make_money_rows(machine, manager, "East")
    client.force_login(make_person("manager", sites=[make_site()]))
    for kind in set(KINDS) - {"replacements", "alterations"}:
        assert client.get(reverse("fleet:money_list", args=[kind])).context["lines"] == [], kind


def test_an_auditor_reads_and_may_not_enter(client, machine, manager):
    make_money_rows(machine, manager, "East")
    client.force_login(make_person("auditor"))
    for kind in KINDS:
        assert len(client.get(reverse("fleet:money_list", args=[kind])).context["lines"]) == 1
        assert client.get(reverse("fleet:money_add", args=[kind])).status_code == 403


def test_a_list_asks_as_many_queries_for_many_amounts_as_for_one(client, manager, django_assert_num_queries):
    for _ in range(3):
        enter(ReplacementPrice, model=make_model(), price=Decimal(9), priced_on=DAY)
    url = reverse("fleet:money_list", args=["replacements"])
    client.get(url)
    with django_assert_num_queries(LIST_QUERIES):
        client.get(url)


LIST_QUERIES = 7
