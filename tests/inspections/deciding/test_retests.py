"""An essential finding on a machine in service is not closed with “ok”: it needs a passing retest, or two persons."""

from datetime import timedelta

import pytest

from fleet.models import State
from inspections.actions import close_finding, report_fault
from inspections.deciding.retests import not_retested
from inspections.errors import SecondPersonNeeded
from inspections.models import Finding
from tests.factories import (
    NOON,
    make_component,
    make_machine,
    make_person,
    make_procedure,
    make_signed_inspection,
)
from tests.inspections.scenes import FAILING, PASSING

LATER = NOON + timedelta(hours=2)

FLUSH = """
code = "return-to-service"
title = "Return to service"
[[step]]
code = "flush"
title = "Flush guard"
test = "observation"
repeat_after = ["flush-valve"]
item = "The guard is there."
"""


def load_flush_guard(folder):
    """Load a procedure whose step is repeated after work on the flush valve, beside that of the scene."""
    (folder / "more").mkdir()
    make_procedure(FLUSH, directory=folder / "more")


class TestEssentialFindingInService:
    def failed(self, scene):
        scene.complete(FAILING)
        scene.sign(at=NOON)
        return Finding.objects.essential().get()

    def again(self, scene, rows=PASSING):
        scene.again(at=NOON)
        scene.complete(rows)
        return scene.sign()

    def close(self, finding, scene):
        close_finding(finding, note="ok", by=scene.technician, at=LATER)

    def test_is_not_closed_with_ok(self, scene):
        finding = self.failed(scene)
        with pytest.raises(SecondPersonNeeded, match="in service"):
            self.close(finding, scene)
        assert Finding.objects.open().filter(pk=finding.pk).exists()

    def test_is_closed_on_a_passing_retest_signed_since(self, scene):
        finding = self.failed(scene)
        self.again(scene)
        self.close(finding, scene)
        assert not Finding.objects.get(pk=finding.pk).is_open

    def test_is_not_closed_on_what_was_signed_before_it_was_opened(self, scene):
        self.again(scene)
        found = report_fault(scene.machine, title="Leaks", severity="essential", by=scene.other, at=LATER)
        with pytest.raises(SecondPersonNeeded):
            self.close(found, scene)

    def test_is_not_closed_on_a_retest_that_failed_again(self, scene):
        finding = self.failed(scene)
        self.again(scene, FAILING)
        with pytest.raises(SecondPersonNeeded):
            self.close(finding, scene)

    def test_is_not_closed_on_a_retest_that_left_it_untested(self, scene):
        finding = self.failed(scene)
        scene.again(at=NOON)
        scene.enter("seen", "yes", code="alarm")
        for code in ("supply-failure", "flush"):
            scene.leave_untested(code, "No gauge today.")
        scene.sign()
        with pytest.raises(SecondPersonNeeded):
            self.close(finding, scene)

    def test_is_not_closed_when_a_later_inspection_failed_it_once_more(self, scene):
        finding = self.failed(scene)
        self.again(scene)
        scene.again(at=NOON)
        scene.complete(FAILING)
        scene.sign(at=LATER)
        with pytest.raises(SecondPersonNeeded):
            self.close(finding, scene)

    def test_a_fault_report_needs_an_inspection_that_names_it(self, scene):
        found = report_fault(scene.machine, title="Leaks", severity="essential", by=scene.other, at=NOON)
        passed = self.again(scene)
        with pytest.raises(SecondPersonNeeded):
            self.close(found, scene)
        passed.retests.add(found)
        self.close(found, scene)
        assert not Finding.objects.get(pk=found.pk).is_open

    def test_is_not_closed_on_a_retest_without_what_the_replaced_component_serves(self, scene, tmp_path):
        finding = self.failed(scene)
        load_flush_guard(tmp_path)
        make_component(scene.machine, kind="flush-valve", gas="oxygen", fitted_on=NOON.date())
        self.again(scene)  # passes what failed, and leaves the flush untested
        with pytest.raises(SecondPersonNeeded):
            self.close(finding, scene)


@pytest.mark.parametrize("replaced", [False, True])
def test_a_signature_settles_a_fault_only_with_what_the_replaced_component_serves(scene, tmp_path, replaced):
    found = report_fault(scene.machine, title="Leaks", severity="other", by=scene.other, at=NOON)
    load_flush_guard(tmp_path)
    if replaced:
        make_component(scene.machine, kind="flush-valve", gas="oxygen", fitted_on=NOON.date())
    scene.inspection.retests.add(found)
    scene.complete()
    scene.sign(at=LATER)
    assert Finding.objects.get(pk=found.pk).is_open == replaced


@pytest.mark.parametrize(("mixing", "is_cleared"), [("not fitted", True), ("fitted", False), ("not known", False)])
def test_a_step_of_either_of_two_safety_features_is_cleared_only_where_both_are_not_fitted(db, mixing, is_cleared):
    technician = make_person("technician")
    machine = make_machine(features={"ratio-protection": State.NOT_FITTED, "electronic-mixing": State(mixing)})
    content = {"feature": "ratio-protection", "or_feature": "electronic-mixing"}
    untested = make_signed_inspection(
        machine, by=technician, steps=[{"title": "Lowest oxygen fraction", "content": content, "results": []}]
    )
    finding = Finding(machine=machine, step=untested.steps.get(), title="Lowest oxygen fraction")
    later = make_signed_inspection(
        machine, by=technician, at=LATER, steps=[{"code": "other", "test_code": "observation"}]
    )
    assert (not_retested(finding, later, []) == "") == is_cleared
