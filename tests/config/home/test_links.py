"""The number beside each sentence of Home is the number of rows behind its link, for every role."""

from datetime import timedelta

import pytest
import time_machine

from config.groups import GROUPS
from fleet.actions import withdraw_machine
from fleet.models import Machine
from inspections.actions import (
    book_inspection,
    open_inspection,
    report_fault,
    set_limit_override,
    void_inspection,
)
from inspections.models import Inspection, Procedure
from tests.factories import (
    NOON,
    TODAY,
    load_all_procedures,
    make_area,
    make_inspection,
    make_instrument,
    make_machine,
    make_person,
    make_signed_inspection,
    make_site,
)

DAYS = (-40, 5, 12, 45)


@pytest.fixture
def hospital(db):
    """Work in every stage, findings, instruments and limits: some that a link counts, some that it must not show."""
    load_all_procedures()
    yearly = Procedure.objects.get(code="yearly")
    site = make_site()
    area = make_area(site, minimum_machines=3)
    person = make_person(*GROUPS)
    with time_machine.travel(NOON, tick=False):
        for days in DAYS * 3:
            make_inspection(make_machine(area=area), yearly, due_on=TODAY + timedelta(days=days))
        open_work = list(Inspection.objects.order_by("pk"))
        for number, inspection in enumerate(open_work[:6]):
            day = TODAY + timedelta(days=number)
            book_inspection(inspection, technician=person, booked_on=day, by=person, at=NOON)
        for inspection in open_work[:2]:
            open_inspection(Inspection.objects.get(pk=inspection.pk), by=person, at=NOON)
        void_inspection(open_work[-1], reason="Planned twice", by=person, at=NOON)
        for days in (2, 400):
            make_signed_inspection(make_machine(area=area), yearly, by=person, at=NOON - timedelta(days=days))
        for own in (True, False, False):
            signer = person if own else make_person("technician")
            make_signed_inspection(make_machine(area=area), yearly, by=signer, at=NOON - timedelta(days=3))
        for severity in ("essential", "essential", "other"):
            report_fault(make_machine(area=area), title="Flush sticks", severity=severity, by=person, at=NOON)
        withdraw_machine(Machine.objects.first(), by=person, at=NOON, reason="Leaks")
        for days in (-1, 9, 200):
            make_instrument(site=site, calibrated_on=TODAY - timedelta(days=300), due_on=TODAY + timedelta(days=days))
        for days in (1, 200):
            set_limit_override(
                test_code="supply-failure", result_key="trip_pressure", lower=26.0, unit="psi", reason="Local rule",
                source="A manual", from_date=TODAY, by=person, at=NOON - timedelta(days=days), site=make_site(),
            )  # fmt: skip
        yield person


def rows_behind(response):
    """The number of rows that a page lists."""
    context = response.context
    if "report" in context:
        return context["report"].machines
    return context["table"].paginator.count if "table" in context else context["page"].paginator.count


@pytest.mark.parametrize("group", GROUPS)
def test_each_number_of_home_is_the_number_of_rows_behind_its_link(client, hospital, group):
    hospital.groups.set([each for each in hospital.groups.all() if each.name == group])
    client.force_login(hospital)
    parts = client.get("/").context["parts"]
    items = [item for part in parts for item in part.items if item.url]
    later = [part.later for part in parts if part.later]
    items += [item for url in later for item in client.get(url).context["items"] if item.number]
    assert items or group == "planner-in-chief"
    for item in items:
        response = client.get(item.url)
        assert response.status_code == 200, item.url
        assert rows_behind(response) == item.number, (item.text, item.url)
