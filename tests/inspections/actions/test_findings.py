"""Faults reported, retests planned, findings closed."""

from datetime import timedelta

import pytest

from fleet.actions import retire_machine, withdraw_machine
from fleet.errors import Refused
from inspections.actions import close_finding, open_inspection, plan_retest, report_fault
from inspections.actions.findings import open_findings_of
from inspections.errors import StageRefused
from inspections.models import Finding, Result
from tests.factories import (
    NOON,
    TODAY,
    bench_result,
    load_all_procedures,
    make_machine,
    make_person,
    make_signed_inspection,
)

LATER = NOON + timedelta(hours=1)


@pytest.fixture
def technician(db):
    load_all_procedures()
    return make_person("technician")


def fault(machine, by, severity="essential"):
    return report_fault(machine, title="Flush sticks", severity=severity, by=by, at=NOON)


def failed(machine, by, **step):
    """The finding of an inspection that failed one step."""
    steps = [{"is_essential": True, "results": [bench_result(21, decision="fail")], **step}]
    inspection = make_signed_inspection(machine, by=by, steps=steps)
    results = Result.objects.filter(step__inspection=inspection).select_related("step")
    open_findings_of(inspection, results, by=by, at=NOON)
    return Finding.objects.get(result__step__inspection=inspection)


def test_a_failed_result_of_an_essential_step_opens_an_essential_finding(technician):
    found = failed(make_machine(), technician)
    assert (found.severity, found.origin, found.is_open) == ("essential", "failed outcome", True)
    assert found.title == "Oxygen supply failure: trip pressure, fail"


def test_a_failed_result_of_another_step_opens_a_finding_of_other_severity(technician):
    assert failed(make_machine(), technician, is_essential=False).severity == "other"


def test_a_fault_without_words_is_refused(technician):
    with pytest.raises(Refused, match="in a few words"):
        report_fault(make_machine(), title="  ", severity="other", by=technician, at=NOON)


def test_closing_needs_a_note_and_happens_once(technician):
    found = fault(make_machine(), technician, severity="other")
    with pytest.raises(Refused, match="what was done"):
        close_finding(found, note=" ", by=technician, at=LATER)
    close_finding(found, note="Spring renewed", work_hours=1.5, by=technician, at=LATER)
    assert (found.closing_note, float(found.work_hours), found.closed_at) == ("Spring renewed", 1.5, LATER)
    with pytest.raises(Refused, match="already closed"):
        close_finding(found, note="Again", by=technician, at=LATER)


def test_an_essential_finding_of_a_withdrawn_machine_closes_only_with_its_release(technician):
    machine = make_machine()
    found = fault(machine, technician)
    withdraw_machine(machine, by=technician, at=NOON, reason="Flush sticks")
    with pytest.raises(Refused, match="passing retest"):
        close_finding(found, note="Spring renewed", by=technician, at=LATER)


def test_a_retest_repeats_the_step_that_failed(technician):
    machine = make_machine()
    found = failed(machine, technician, test_code="regulator", title="Regulator", content=regulator_content())
    retest = plan_retest(machine, [found], due_on=TODAY, by=technician, at=LATER)
    open_inspection(retest, by=technician, at=LATER)
    repeated = retest.steps.get(test_code="regulator")
    assert (repeated.code, repeated.applies) == (f"retest-{found.pk}", True)


def regulator_content():
    return {"code": "regulator", "title": "Regulator", "test": "regulator", "essential": True, "limits": []}


def test_an_observation_of_another_item_does_not_stand_in_for_the_one_that_failed(technician):
    """Every observation is the same bench test; only the item tells them apart."""
    item = {"code": "hose", "title": "Hose", "test": "observation", "item": "The hose is whole.", "limits": []}
    machine = make_machine()
    found = failed(
        machine, technician, test_code="observation", title="Hose", content=item,
        results=[bench_result(0, decision="fail", unit="yes/no", key="seen", lower=1)],
    )  # fmt: skip
    retest = plan_retest(machine, [found], due_on=TODAY, by=technician, at=LATER)
    open_inspection(retest, by=technician, at=LATER)
    assert retest.steps.filter(code=f"retest-{found.pk}", content__item="The hose is whole.").exists()


def test_a_retest_needs_an_open_finding_of_that_machine(technician):
    machine = make_machine()
    of_another = fault(make_machine(), technician)
    with pytest.raises(Refused, match="no open finding"):
        plan_retest(machine, [of_another], due_on=TODAY, by=technician, at=LATER)


def test_a_retired_machine_is_not_retested(technician):
    machine = make_machine()
    found = fault(machine, technician)
    retire_machine(machine, by=technician, at=NOON, reason="Sold")
    with pytest.raises(StageRefused, match="is retired"):
        plan_retest(machine, [found], due_on=TODAY, by=technician, at=LATER)


def test_a_retest_without_its_procedure_says_how_to_load_it(db):
    technician, machine = make_person("technician"), make_machine()
    with pytest.raises(Refused, match="load_procedures"):
        plan_retest(machine, [fault(machine, technician)], due_on=TODAY, by=technician, at=LATER)


def test_a_machine_withdrawn_since_the_page_was_opened_keeps_its_essential_finding_open(db):
    person, machine = make_person("technician"), make_machine()
    fault = report_fault(machine, title="Leaks", severity="essential", by=person, at=NOON)
    assert fault.machine.status == "in service"
    withdraw_machine(type(machine).objects.get(pk=machine.pk), by=person, at=LATER, reason="Leaks")
    with pytest.raises(Refused, match="closes when a passing retest"):
        close_finding(fault, note="Tightened", by=person, at=LATER)
    assert Finding.objects.open().filter(pk=fault.pk).exists()
