"""What is signed without proof opens a finding, and lets no machine back into service."""

import pytest

from inspections.actions import report_fault
from inspections.at_bench.conditional_results import REMARK
from inspections.at_bench.procedure_files import read_procedure
from inspections.deciding.release import reasons_against_release
from inspections.deciding.retests import passing_retest_of
from inspections.errors import ProcedureError
from inspections.models import Finding, Result
from inspections.records.signed_record import ShownRecord
from tests.factories import NOON
from tests.inspections.scenes import SHORT, make_scene

# Trips between 30 and 29.2 psi: inside the 30 psi of the rule by less than its uncertainty.
NEAR = [("45", "4.0"), ("35", "4.0"), ("30", "4.0"), ("29.2", "0.0"), ("20", "0.0")]


def test_a_result_that_was_not_measured_opens_a_finding_and_the_label_says_no_pass(scene):
    scene.sweep()
    scene.enter("seen", "yes", code="alarm")
    scene.leave_untested("flush", "No flowmeter.")
    inspection = scene.sign()
    reset = Result.objects.get(key="reset_pressure")
    assert (reset.value, reset.decision, reset.content["reason"]) == (None, "not tested", "not measured")
    finding = Finding.objects.get(step=reset.step)
    assert (finding.origin, finding.severity) == ("not tested", "other")
    assert reset.content["why"] and reset.content["why"] in finding.description
    assert not Finding.objects.filter(result=reset).exists()  # one finding for all that the essential step left open
    assert inspection.result_words == "incomplete"
    assert any("reset pressure is not tested" in one for one in reasons_against_release(scene.machine, inspection))


def test_what_an_ordinary_step_left_open_opens_a_finding_for_each_result(db, tmp_path):
    scene = make_scene(tmp_path, text=SHORT.replace("essential = true", "essential = false"))
    scene.sweep()
    scene.enter("seen", "yes", code="alarm")
    scene.leave_untested("flush", "No flowmeter.")
    inspection = scene.sign()
    left_open = {one.pk for one in Result.objects.filter(decision__in=("not tested", "not decided"))}
    findings = Finding.objects.filter(machine=scene.machine)
    assert left_open and {one.result_id for one in findings} == left_open
    assert {one.origin for one in findings} == {"not proved"} and inspection.result_words == "not tested"


def test_a_fault_is_not_closed_on_an_inspection_that_left_results_untested(scene):
    found = report_fault(scene.machine, title="Leaks", severity="essential", by=scene.other, at=NOON)
    scene.sweep()
    scene.enter("seen", "yes", code="alarm")
    scene.leave_untested("flush", "No flowmeter.")
    scene.sign().retests.add(found)
    assert passing_retest_of(found) is None


@pytest.mark.parametrize(
    ("rule", "finds"), [("", True), ('conditional = "finding"', True), ('conditional = "remark"', False)]
)
def test_a_conditional_pass_opens_a_finding_or_a_remark_by_the_rule_of_its_step(db, tmp_path, rule, finds):
    text = SHORT.replace("essential = true", f"essential = true\n{rule}")
    scene = make_scene(tmp_path, text=text)
    scene.complete(NEAR)
    scene.sign()
    trip = Result.objects.get(key="trip_pressure")
    assert trip.decision == "conditional pass"
    assert Finding.objects.filter(result=trip).exists() == finds
    assert (REMARK in trip.remark) != finds


def test_another_rule_for_conditional_results_is_refused():
    text = SHORT.replace("essential = true", 'essential = true\nconditional = "shrug"')
    with pytest.raises(ProcedureError, match="Accepted: finding, remark"):
        read_procedure(text, name="short.toml")


def test_the_page_before_a_signature_names_what_is_not_proved(client, scene):
    scene.sweep()
    scene.enter("seen", "yes", code="alarm")
    scene.leave_untested("flush", "No flowmeter.")
    client.force_login(scene.technician)
    page = client.get(f"/inspections/{scene.inspection.pk}/sign/").content.decode()
    assert "This inspection would be incomplete" in page and "reset pressure, not tested" in page
    assert "Not proved" not in page  # said once


def test_the_page_before_a_signature_names_what_an_ordinary_step_left_open(client, db, tmp_path):
    scene = make_scene(tmp_path, text=SHORT.replace("essential = true", "essential = false"))
    scene.sweep()
    client.force_login(scene.technician)
    page = client.get(f"/inspections/{scene.inspection.pk}/sign/").content.decode()
    assert "Not proved" in page and "reset pressure, not tested" in page and "would be incomplete" not in page


def test_a_record_counts_steps_not_tested_once_whether_marked_or_left_open(scene):
    scene.sweep()
    scene.enter("seen", "yes", code="alarm")
    scene.leave_untested("flush", "No flowmeter.")
    assert ShownRecord(scene.sign().record).counts == [("not tested", 2), ("pass", 1)]
