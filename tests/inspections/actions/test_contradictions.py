"""What a circuit and the record disagree about becomes a finding: once, and no longer than it lasts."""

from dataclasses import dataclass
from datetime import timedelta

import pytest

from fleet.changes import changes_of
from inspections.actions import close_finding, report_fault, settle_contradictions
from inspections.models import Finding
from inspections.retirement.gathering import review_of
from tests.factories import NOON, TODAY, make_machine, make_person

LATER = NOON + timedelta(days=1)


@dataclass(frozen=True)
class Disagreement:
    """As `fleet.circuit.derived_features` tells one."""

    feature: str
    recorded: str
    shown: str

    def __str__(self):
        return f"Recorded as {self.recorded}, but the circuit shows it {self.shown}: no part does it."


VALVE = Disagreement("outlet-check-valve", "fitted", "not fitted")
RATIO = Disagreement("ratio-protection", "not fitted", "fitted")


@pytest.fixture
def machine(db):
    return make_machine()


def settle(machine, *there, by=None, at=NOON):
    return settle_contradictions(machine, there, by=by, at=at)


def test_a_contradiction_opens_a_finding_that_says_what_and_why(machine):
    (found,) = settle(machine, VALVE)
    assert (found.origin, found.severity, found.is_open, found.opened_at) == ("circuit", "other", True, NOON)
    assert found.title == "Outlet check valve: recorded as fitted, the circuit shows not fitted"
    assert "no part does it" in found.description and "Inspect the machine" in found.description
    assert changes_of("finding", found.pk).exists()


def test_asking_again_opens_no_second_one(machine):
    settle(machine, VALVE)
    assert settle(machine, VALVE, at=LATER) == []
    assert len(settle(machine, VALVE, RATIO, at=LATER)) == 1
    assert Finding.objects.open().filter(machine=machine).count() == 2


def test_one_that_is_gone_is_closed_with_a_note_and_others_stay(machine):
    gone, stays = settle(machine, VALVE, RATIO)
    fault = report_fault(machine, title="Flush sticks", severity="other", by=None, at=NOON)
    settle(machine, RATIO, at=LATER)
    gone.refresh_from_db()
    assert (gone.closed_at, gone.closed_by) == (LATER, None) and "now agree" in gone.closing_note
    assert set(Finding.objects.open()) == {stays, fault}
    assert changes_of("finding", gone.pk).count() == 2


def test_one_that_came_back_is_opened_anew(machine):
    settle(machine, VALVE)
    settle(machine, at=LATER)
    (again,) = settle(machine, VALVE, at=LATER)
    assert again.is_open and Finding.objects.filter(machine=machine).count() == 2


def test_what_a_person_decided_stays_closed_until_record_or_circuit_says_something_else(machine):
    (found,) = settle(machine, VALVE)
    close_finding(found, note="The drawing of the model is wrong here.", by=make_person("technician"), at=NOON)
    assert settle(machine, VALVE, at=LATER) == []
    assert len(settle(machine, Disagreement("outlet-check-valve", "not fitted", "fitted"), at=LATER)) == 1


def test_the_same_contradiction_on_another_machine_is_a_finding_of_its_own(machine):
    settle(machine, VALVE)
    assert len(settle(make_machine(), VALVE)) == 1


def test_a_contradiction_is_no_fault_in_the_retirement_review(machine):
    settle(machine, VALVE)
    assert review_of(machine, TODAY).facts.findings == ()
    report_fault(machine, title="Flush sticks", severity="other", by=None, at=NOON)
    assert len(review_of(machine, TODAY).facts.findings) == 1
