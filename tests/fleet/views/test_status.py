import pytest
from django.urls import reverse

from fleet.actions import withdraw_machine
from fleet.models import StatusChange
from tests.factories import NOON, make_area, make_machine, make_person, make_site

CASES = [("machine_withdraw", "planner", "withdrawn"), ("machine_retire", "manager", "retired")]
REASON = {"reason": "Oxygen valve trips at 12 psi", "evidence": "Report 4"}


@pytest.fixture
def machine(db):
    return make_machine()


@pytest.mark.parametrize(("name", "group", "status"), CASES)
def test_a_machine_is_taken_out_of_use_with_a_reason(client, machine, name, group, status):
    person = make_person(group)
    client.force_login(person)
    response = client.post(reverse(f"fleet:{name}", args=[machine.pk]), REASON)
    led_on = {"machine_retire": reverse("inspections:decommissioning", args=[machine.pk])}
    assert response.headers["Location"] == led_on.get(name, machine.get_absolute_url())
    change = StatusChange.objects.first()
    assert (change.status, change.reason, change.evidence, change.by) == (status, REASON["reason"], "Report 4", person)
    machine.refresh_from_db()
    assert machine.status == status


@pytest.mark.parametrize(("name", "group", "status"), CASES)
@pytest.mark.parametrize("reason", ["", "   ", "x" * 301])
def test_without_a_reason_that_can_be_kept_nothing_happens(client, machine, name, group, status, reason):
    client.force_login(make_person(group))
    response = client.post(reverse(f"fleet:{name}", args=[machine.pk]), {"reason": reason})
    assert response.context["form"].errors["reason"]
    machine.refresh_from_db()
    assert machine.status == "in service"


@pytest.mark.parametrize(("name", "group", "status"), CASES)
def test_it_is_for_those_who_may_and_for_their_own_sites(client, machine, name, group, status):
    url = reverse(f"fleet:{name}", args=[machine.pk])
    client.force_login(make_person("auditor"))
    assert client.post(url, REASON).status_code == 403
    client.force_login(make_person(group, sites=[make_site()]))
    assert client.post(url, REASON).status_code == 404
    client.force_login(make_person(group))
    assert client.put(url).status_code == 405
    machine.refresh_from_db()
    assert machine.status == "in service"


def test_a_machine_that_somebody_withdrew_meanwhile_is_told(client, machine):
    client.force_login(make_person("planner"))
    withdraw_machine(machine, by=None, at=NOON, reason="First")
    response = client.post(reverse("fleet:machine_withdraw", args=[machine.pk]), REASON, follow=True)
    assert "only a machine that is in service can become withdrawn" in response.content.decode()
    assert StatusChange.objects.filter(status="withdrawn").count() == 1


def test_a_withdrawal_that_takes_an_area_below_its_minimum_is_warned_of_with_the_figures(client, db):
    area = make_area(name="Theatre suite", minimum_machines=2)
    machine = make_machine(area=area)
    make_machine(area=area)
    client.force_login(make_person("technician"))
    url = reverse("fleet:machine_withdraw", args=[machine.pk])
    page = client.get(url).content.decode()
    assert "falls below its minimum" in page
    assert "1 machine in service would be left, and its minimum is 2" in page
    client.post(url, REASON)
    machine.refresh_from_db()
    assert machine.status == "withdrawn"


def test_a_withdrawal_that_leaves_enough_is_not_warned_of(client, db):
    area = make_area(minimum_machines=1)
    machine = make_machine(area=area)
    make_machine(area=area)
    client.force_login(make_person("technician"))
    assert "falls below" not in client.get(reverse("fleet:machine_withdraw", args=[machine.pk])).content.decode()


def test_retiring_a_withdrawn_machine_takes_none_from_its_area(client, db):
    area = make_area(minimum_machines=1)
    machine = make_machine(area=area)
    make_machine(area=area)
    withdraw_machine(machine, by=None, at=NOON, reason="Worn")
    client.force_login(make_person("manager"))
    response = client.get(reverse("fleet:machine_retire", args=[machine.pk]))
    assert (response.context["left"], response.context["is_short"]) == (1, False)


def test_a_machine_out_of_service_offers_no_form_to_withdraw_it(client, machine):
    withdraw_machine(machine, by=None, at=NOON, reason="Worn")
    client.force_login(make_person("planner"))
    page = client.get(reverse("fleet:machine_withdraw", args=[machine.pk])).content.decode()
    assert "is not in service" in page and "<textarea" not in page
