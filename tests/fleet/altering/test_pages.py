"""A planner chooses machines and an alteration, a technician carries it out on each, everybody reads how far it is."""

import csv
import io

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from pypdf import PdfReader

from fleet.models import AlterationOfMachine, AlterationPlan, Job
from tests.factories import TODAY, make_area, make_machine, make_model, make_person, make_site
from tests.fleet.altering.conftest import run_effects
from tests.fleet.altering.rows import make_alteration
from tests.fleet.circuit_texts import SMALL


def pdf_text(content):
    return "".join(page.extract_text() for page in PdfReader(io.BytesIO(content)).pages)


FIELDS = {"kind": "fit-outlet-check-valve", "title": "Valves", "reason": "Committee", "from_date": TODAY.isoformat()}


def add(client, query="", **data):
    return client.post(f"{reverse('fleet:alteration_add')}{query}", {**FIELDS, **data})


def body(response):
    return response.content.decode()


def test_the_machines_of_the_filter_are_planned_and_the_job_is_requested(client, planner, machines):
    make_machine(area=machines[0].area)
    query = f"?model={machines[0].model.pk}"
    page = body(client.get(reverse("fleet:alteration_add") + query))
    assert "2 machines" in page and "C-1" in page
    response = add(client, query, seen=2)
    plan = AlterationPlan.objects.get()
    assert response.url == plan.get_absolute_url()
    assert {row.machine.asset_number for row in plan.machines.all()} == {"C-1", "C-2"}
    assert Job.objects.get().kind == "alteration-effect"


def test_nobody_plans_machines_that_the_page_did_not_show(client, planner, machines):
    response = add(client, seen=1)
    assert "The filter now leaves 2 machines; the page showed 1" in body(response)
    assert not AlterationPlan.objects.exists()


@pytest.mark.parametrize(
    ("data", "said"),
    [
        ({"kind": "agent-off"}, "Choose the agent"),
        ({"agent": "isoflurane"}, "withdraws no agent"),
        ({"kind": "nothing"}, "is no alteration"),
        ({"price_each": "5"}, "Choose its currency"),
        ({"title": ""}, "required"),
    ],
)
def test_what_cannot_be_planned_is_refused_with_a_sentence(client, planner, machines, data, said):
    assert said in body(add(client, seen=2, **data))
    assert not AlterationPlan.objects.exists()


def test_machines_are_added_later_and_no_machine_twice(client, planner, machines):
    plan = make_alteration(machines[0])
    url = reverse("fleet:alteration_machines", args=[plan.pk])
    page = body(client.get(url))
    assert "C-2" in page and "C-1" not in page
    client.post(url, {"seen": 1})
    assert plan.machines.count() == 2


def test_the_page_shows_cover_before_and_after_with_its_picture(client, planner, machines):
    plan = make_alteration(*machines)
    assert "Not computed yet" in body(client.get(plan.get_absolute_url()))
    run_effects(plan)
    page = body(client.get(plan.get_absolute_url()))
    assert "Open causes before and after" in page and "fit check valve" in page


def test_the_paper_and_the_file_have_every_machine(client, planner, machines):
    plan = make_alteration(*machines)
    run_effects(plan)
    words = pdf_text(client.get(reverse("fleet:alteration_pdf", args=[plan.pk])).content)
    assert "C-1" in words and "C-2" in words and "Cover before and after" in words
    response = client.get(reverse("fleet:alteration_csv", args=[plan.pk]))
    rows = list(csv.DictReader(io.StringIO(b"".join(response.streaming_content).decode("utf-8-sig"))))
    assert [row["asset_number"] for row in rows] == ["C-1", "C-2"] and rows[0]["state"] == "planned"


def carry_out(client, row, **data):
    page = client.get(row.get_absolute_url())
    seen = page.context["form"].initial["seen"]
    fields = {"done_on": TODAY.isoformat(), "evidence": "Order 7", "seen": seen, **data}
    return client.post(row.get_absolute_url(), fields)


def test_a_technician_carries_it_out_and_is_led_to_the_retest(client, machines):
    row = make_alteration(*machines).machines.first()
    client.force_login(make_person("technician"))
    assert carry_out(client, row).url == row.get_absolute_url()
    page = body(client.get(row.get_absolute_url()))
    assert "Next: the retest." in page and "Order 7" in page
    refused = client.post(row.get_absolute_url(), {"done_on": TODAY.isoformat(), "evidence": "Order 8", "seen": "0-0"})
    assert "is carried out already" in body(client.get(refused.url))
    assert AlterationOfMachine.objects.get(pk=row.pk).evidence == "Order 7"


def test_a_machine_is_left_out_with_a_reason_and_taken_up_again(client, planner, machines):
    row = make_alteration(*machines).machines.first()
    client.post(reverse("fleet:alteration_leave_out", args=[row.pk]), {"reason": "Is sold"})
    assert "Is sold" in body(client.get(row.get_absolute_url()))
    take_up = reverse("fleet:alteration_take_up", args=[row.pk])
    assert client.get(take_up).status_code == 405
    client.post(take_up)
    row.refresh_from_db()
    assert row.is_planned


def test_who_may_not_change_reads_only(client, machines):
    row = make_alteration(*machines).machines.first()
    client.force_login(make_person("auditor"))
    assert client.get(row.get_absolute_url()).status_code == 200
    assert client.post(row.get_absolute_url(), {}).status_code == 403
    assert client.get(reverse("fleet:alteration_add")).status_code == 403
    assert client.post(reverse("fleet:alteration_leave_out", args=[row.pk]), {"reason": "x"}).status_code == 403


def test_whoever_is_limited_to_a_site_sees_its_machines_alone(client, machines):
    elsewhere = make_machine(area=make_area(make_site(name="South")), asset_number="S-1")
    plan, of_others = make_alteration(*machines, elsewhere), make_alteration(elsewhere)
    client.force_login(make_person("planner", sites=[machines[0].site]))
    page = body(client.get(plan.get_absolute_url()))
    assert "C-1" in page and "S-1" not in page
    assert client.get(of_others.get_absolute_url()).status_code == 404
    assert client.get(plan.machines.get(machine=elsewhere).get_absolute_url()).status_code == 404
    assert [row.record.pk for row in client.get(reverse("fleet:alterations")).context["table"].rows] == [plan.pk]


def test_the_pages_take_a_fixed_number_of_queries(client, planner, machines):
    def queries(url):
        with CaptureQueriesContext(connection) as found:
            assert client.get(url).status_code == 200
        return len(found)

    plan = make_alteration(*machines)
    run_effects(plan)
    urls = [plan.get_absolute_url(), reverse("fleet:alterations"), reverse("fleet:alteration_pdf", args=[plan.pk])]
    few = [queries(url) for url in urls]
    model = make_model(circuit=SMALL.replace("[5,", "[4,"))
    many = make_alteration(*(make_machine(model=each) for each in [model, machines[0].model] * 4))
    run_effects(many)
    urls = [many.get_absolute_url(), reverse("fleet:alterations"), reverse("fleet:alteration_pdf", args=[many.pk])]
    assert [queries(url) for url in urls] == few
