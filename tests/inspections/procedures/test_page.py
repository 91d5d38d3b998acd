"""The page of a procedure shows what its steps are for, and what it does not test."""

import pytest

from fleet.catalogue import FEATURES
from inspections.actions import open_inspection, plan_retest, report_fault
from inspections.at_bench.procedure_files import read_procedures
from inspections.at_bench.step_content import worded
from inspections.models import Procedure
from tests.factories import NOON, load_all_procedures, make_component, make_machine, make_person


@pytest.mark.parametrize("content", read_procedures(), ids=lambda content: content["code"])
def test_the_page_shows_every_step_and_what_is_not_tested_with_the_reason(client, db, content):
    load_all_procedures()
    client.force_login(make_person("auditor"))
    page = client.get(Procedure.objects.get(code=content["code"]).get_absolute_url()).content.decode()
    for step in content["step"]:
        said = worded(step)
        assert said["purpose"] in page.replace("&#x27;", "'")
        assert said["caution"] in page.replace("&#x27;", "'")
    for entry in content["not_tested_here"]:
        assert ", ".join(FEATURES[code].name for code in entry["features"]) in page
        assert entry["reason"] in page.replace("&#x27;", "'")


def test_the_step_at_the_bench_shows_its_caution_and_why_a_retest_repeats_it(client, db):
    load_all_procedures()
    technician = make_person("technician")
    client.force_login(technician)
    machine = make_machine()
    fault = report_fault(machine, title="It leaks", severity="other", by=technician, at=NOON)
    make_component(machine, kind="outlet-lock", label="Lock of the outlet", fitted_on=NOON.date())
    retest = plan_retest(machine, [fault], due_on=NOON.date(), by=technician, at=NOON)
    open_inspection(retest, by=technician, at=NOON)
    step = retest.steps.get(code="outlet-retention")
    page = client.get(step.get_absolute_url()).content.decode()
    assert "After work on: Lock of the outlet." in page
    assert step.content["caution"] in page.replace("&#x27;", "'")
