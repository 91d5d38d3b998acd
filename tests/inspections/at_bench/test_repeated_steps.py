"""A retest repeats what failed and what the repaired components do."""

from datetime import timedelta

import pytest

from fleet.catalogue import COMPONENT_KINDS
from fleet.models import State
from inspections.actions import open_inspection, plan_retest, report_fault
from inspections.at_bench.applicable_steps import build_steps
from inspections.at_bench.procedure_files import read_procedures
from inspections.at_bench.step_content import is_repeated_after
from inspections.models import Procedure
from tests.factories import NOON, TODAY, load_all_procedures, make_component, make_inspection, make_machine, make_person

LATER = TODAY + timedelta(days=3)
SHIPPED = [step for content in read_procedures() if not content.get("pre_use") for step in content["step"]]


@pytest.fixture
def retest_rows(db):
    """retest_rows(machine, on): the steps of a retest of a fault reported at noon of today."""
    load_all_procedures()

    def retest_rows(machine, on=LATER):
        fault = report_fault(machine, title="It leaks", severity="other", by=make_person("technician"), at=NOON)
        return build_steps(plan_retest(machine, [fault], due_on=on, by=None, at=NOON), on=on).rows

    return retest_rows


def is_at_one_of(step, kinds):
    """Whether a step of one kind of component finds one there that it is about; of a rated value it does not."""
    return "rated" not in step and step.get("component", "gauge") in kinds


def codes(rows):
    return {row.code for row in rows if row.applies}


def whole():
    """The steps of the whole return to service."""
    content = Procedure.objects.get(code="return-to-service").current_version().content
    return {step["code"] for step in content["step"]}


@pytest.mark.parametrize("kind", COMPONENT_KINDS)
@pytest.mark.parametrize("dates", [{"fitted_on": LATER}, {"removed_on": LATER}], ids=["fitted", "removed"])
def test_a_retest_has_the_steps_of_a_component_that_was_replaced_since(retest_rows, kind, dates):
    machine = make_machine()
    make_component(machine, kind="gauge", label="Another gauge", gas="oxygen")
    make_component(machine, kind=kind, label="The repaired one", gas="oxygen", **dates)
    if kind != "pressure-regulator":
        make_component(machine, kind="pressure-regulator", label="Regulator", gas="oxygen")
    rows = retest_rows(machine)
    there = {"gauge", "pressure-regulator", kind}
    if "removed_on" in dates and kind != "gauge":
        there -= {kind}  # none is left to test
    about = {step["code"] for step in SHIPPED if is_repeated_after(step, kind) and is_at_one_of(step, there)}
    assert about <= codes(rows)
    assert whole() <= {row.code for row in rows}


def test_the_row_says_after_which_work_it_is_repeated(retest_rows):
    machine = make_machine()
    make_component(machine, kind="outlet-lock", label="Lock of the outlet", gas="", fitted_on=LATER)
    row = next(row for row in retest_rows(machine) if row.code == "outlet-retention")
    assert row.content["repeated_because"] == "After work on: Lock of the outlet."


@pytest.mark.parametrize("fitted_on", [TODAY - timedelta(days=1), LATER + timedelta(days=1)])
def test_a_component_replaced_before_the_finding_or_after_the_retest_adds_nothing(retest_rows, fitted_on):
    machine = make_machine()
    make_component(machine, kind="outlet-lock", label="Lock of the outlet", gas="", fitted_on=fitted_on)
    assert "outlet-retention" not in codes(retest_rows(machine))


def test_where_the_record_names_no_component_the_retest_is_the_whole_return_to_service(retest_rows):
    assert {row.code for row in retest_rows(make_machine())} == whole()


def test_a_safety_feature_that_is_not_fitted_is_not_repeated(retest_rows):
    machine = make_machine(features={"outlet-retention": State.NOT_FITTED})
    make_component(machine, kind="outlet-lock", label="Lock of the outlet", gas="", fitted_on=LATER)
    assert "outlet-retention" not in codes(retest_rows(machine))


def test_only_the_regulator_of_the_gas_of_the_repair_is_measured_again(retest_rows):
    machine = make_machine()
    make_component(machine, label="O2 regulator", gas="oxygen")
    make_component(machine, label="N2O regulator", gas="nitrous-oxide")
    make_component(machine, kind="gauge", label="O2 gauge", gas="oxygen", fitted_on=LATER)
    assert [row.subject for row in retest_rows(machine) if row.code == "regulator"] == ["O2 regulator"]


def test_the_steps_of_a_retest_can_be_stored(retest_rows):
    """No two rows of an inspection have one code and subject, whatever was replaced."""
    machine = make_machine()
    for kind in COMPONENT_KINDS:
        make_component(machine, kind=kind, label=f"A {kind}", gas="oxygen", fitted_on=LATER)
    retest_rows(machine)
    retest = machine.inspections.get()
    open_inspection(retest, by=make_person("technician"), at=NOON + timedelta(days=3))
    assert retest.steps.filter(content__has_key="repeated_because").exists()


def test_a_retest_takes_no_step_from_the_check_before_use(retest_rows):
    machine = make_machine()
    make_component(machine, kind="breathing-hose", label="New hose", fitted_on=LATER)
    assert "breathing-connectors" in codes(retest_rows(machine))
    Procedure.objects.get(code="daily").versions.update(content=_with_hose(pre_use=True))
    assert "hose-watched" not in codes(retest_rows(machine))
    Procedure.objects.get(code="daily").versions.update(content=_with_hose(pre_use=False))
    assert "hose-watched" in codes(retest_rows(machine))


def _with_hose(**more):
    step = {"code": "hose-watched", "title": "Hose", "test": "observation", "repeat_after": ["breathing-hose"]}
    return {"code": "daily", "title": "Daily", "step": [{**step, "item": "It is whole."}], **more}


def test_an_inspection_that_retests_nothing_repeats_nothing(db):
    machine = make_machine()
    make_component(machine, kind="outlet-lock", label="Lock", gas="", fitted_on=TODAY)
    load_all_procedures()
    inspection = make_inspection(machine, Procedure.objects.get(code="return-to-service"))
    assert codes(build_steps(inspection, on=TODAY).rows) <= whole()
