"""An essential finding on a machine in service is not closed with “ok”: it needs a passing retest, or two persons."""

from datetime import timedelta

import pytest

from inspections.actions import close_finding, report_fault
from inspections.errors import SecondPersonNeeded
from inspections.models import Finding
from tests.factories import NOON
from tests.inspections.scenes import FAILING, PASSING

LATER = NOON + timedelta(hours=2)


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
