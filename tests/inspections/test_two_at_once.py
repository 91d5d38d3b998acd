"""Two threads with a connection each do the same at the same moment, on whichever database the suite runs on."""

import threading
from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from functools import partial

import pytest
from django.db import connection

from fleet.actions import record_feature_state, retire_machine, return_machine_to_service, withdraw_machine
from fleet.current_state.comparing import compare_all
from fleet.models import CurrentState
from inspections.actions import (
    book_inspection,
    close_finding,
    countersign_inspection,
    open_inspection,
    plan_due_inspections,
    report_fault,
    set_not_tested,
    settle_contest,
    sign_inspection,
    void_inspection,
)
from inspections.errors import Refused
from inspections.kept.completions import compare_completions
from inspections.kept.keeping import compare, fill
from inspections.kept.kinds import KINDS
from inspections.kept.reviews import REVIEWS
from inspections.kept_counts.counts import compare_counts
from inspections.models import Finding, Inspection, InspectionStep, KeptDueDate, Reading, SignedRecord
from tests.factories import NOON, TODAY, make_inspection, make_machine, make_person
from tests.inspections.scenes import enter, make_scene
from tests.services.programs import PATIENCE_S


@pytest.fixture
def scene(transactional_db, tmp_path):
    return make_scene(tmp_path)


def at_once(*actions):
    """Start every action at the same moment in a thread of its own; return what each gave, or its refusal."""
    gate = threading.Barrier(len(actions))

    def run(action):
        try:
            connection.ensure_connection()
            gate.wait(PATIENCE_S)
            return action()
        except Refused as error:
            return error
        finally:
            connection.close()

    with ThreadPoolExecutor(len(actions)) as pool:
        return list(pool.map(run, actions))


def refused(results):
    return [result for result in results if isinstance(result, Refused)]


def fresh(inspection):
    return Inspection.objects.with_place().get(pk=inspection.pk)


def test_two_readings_for_one_empty_place_are_both_kept_and_one_stands(scene):
    step = scene.step()

    def entering(person, text):
        return lambda: enter(
            InspectionStep.objects.get(pk=step.pk),
            "full_pressure",
            as_read=text,
            unit="psi",
            by=person,
            at=NOON,
            seen=None,
        )

    kept = at_once(entering(scene.technician, "50"), entering(scene.other, "52"))
    assert sorted(str(reading) for reading in Reading.objects.all()) == ["50 psi", "52 psi"]
    assert sorted(reading.is_contested for reading in kept) == [False, True]
    assert Reading.objects.current().count() == 1


def test_both_choices_of_a_contest_at_once_leave_one_reading_standing(scene):
    scene.enter("full_pressure", "50", unit="psi")
    contested = enter(scene.step(), "full_pressure", as_read="52", unit="psi", by=scene.other, at=NOON, seen=None)

    def choose(stands):
        return lambda: settle_contest(Reading.objects.get(pk=contested.pk), stands=stands, by=scene.technician, at=NOON)

    assert len(refused(at_once(choose(True), choose(False)))) == 1
    assert Reading.objects.current().count() == 1


def planned(scene):
    inspection = make_inspection(scene.machine, scene.procedure)
    return inspection, make_person("planner")


def opening(scene, inspection):
    return lambda: open_inspection(fresh(inspection), by=scene.technician, at=NOON)


def test_opened_and_voided_at_once_it_is_one_of_the_two(scene):
    inspection, planner = planned(scene)
    results = at_once(
        opening(scene, inspection), lambda: void_inspection(fresh(inspection), reason="Away", by=planner, at=NOON)
    )
    assert len(refused(results)) == 1
    assert fresh(inspection).stage == ("on bench" if refused(results) == [results[1]] else "void")


def test_opened_twice_at_once_it_has_its_steps_once(scene):
    inspection, _ = planned(scene)
    assert len(refused(at_once(opening(scene, inspection), opening(scene, inspection)))) == 1
    assert inspection.steps.count() == 3


def test_moved_by_two_planners_at_once_it_goes_to_one_and_the_other_is_told(scene):
    inspection, planner = planned(scene)
    other = make_person("planner")

    def book(by, technician):
        return lambda: book_inspection(
            fresh(inspection), technician=technician, booked_on=TODAY, by=by, at=NOON, seen=None
        )

    results = at_once(book(planner, scene.technician), book(other, scene.other))
    assert len(refused(results)) == 1
    assert fresh(inspection).booked_by == (other if isinstance(results[0], Refused) else planner)


def test_signed_twice_at_once_there_is_one_record_and_one_next_inspection(scene):
    scene.complete()
    results = at_once(
        *(lambda: sign_inspection(fresh(scene.inspection), by=scene.technician, at=NOON) for _ in range(2))
    )
    assert len(refused(results)) == 1
    assert SignedRecord.objects.count() == 1
    assert Inspection.objects.open().filter(machine=scene.machine).count() == 1


def test_signed_and_voided_at_once_it_is_one_of_the_two(scene):
    scene.complete()
    results = at_once(
        lambda: sign_inspection(fresh(scene.inspection), by=scene.technician, at=NOON),
        lambda: void_inspection(
            fresh(scene.inspection), reason="Away", by=scene.other, at=NOON, although_in_progress=True
        ),
    )
    assert len(refused(results)) == 1
    assert SignedRecord.objects.count() == (fresh(scene.inspection).stage == "signed")


def test_a_reading_entered_as_the_inspection_is_signed_is_in_the_record_or_refused(scene):
    scene.complete()
    results = at_once(
        lambda: sign_inspection(fresh(scene.inspection), by=scene.technician, at=NOON),
        lambda: enter(
            scene.step(), "full_pressure", as_read="51.7", unit="psi", instrument=scene.gauge, by=scene.other, at=NOON
        ),
    )
    in_record = "51.7" in SignedRecord.objects.get().content
    assert in_record == (not refused(results))


def test_a_step_left_untested_as_the_inspection_is_signed_makes_it_incomplete_or_is_refused(scene):
    scene.complete()
    step = scene.step()
    results = at_once(
        lambda: sign_inspection(fresh(scene.inspection), by=scene.technician, at=NOON),
        lambda: set_not_tested(InspectionStep.objects.get(pk=step.pk), reason="No oxygen", by=scene.other, at=NOON),
    )
    assert Inspection.objects.incomplete().exists() == (not refused(results))
    assert list(compare_completions()) == []


def test_countersigned_twice_at_once_it_is_done_by_one(scene):
    scene.complete()
    scene.sign()
    people = [scene.other, make_person("technician")]
    results = at_once(*(lambda p=p: countersign_inspection(fresh(scene.inspection), by=p, at=NOON) for p in people))
    assert len(refused(results)) == 1


def test_two_runs_that_plan_what_is_due_plan_it_once(scene):
    for _ in range(3):
        make_machine()
    at_once(*(lambda: plan_due_inspections(today=TODAY, at=NOON) for _ in range(2)))
    machines = list(Inspection.objects.open().values_list("machine", flat=True))
    assert len(machines) == len(set(machines)) == 4


def test_two_changes_of_status_at_once_are_one(scene):
    machine, say = scene.machine, {"by": scene.technician, "at": NOON, "reason": "Leaks"}
    assert len(refused(at_once(*(lambda: withdraw_machine(machine, **say) for _ in range(2))))) == 1
    results = at_once(
        lambda: return_machine_to_service(machine, evidence="Retest", **say), lambda: retire_machine(machine, **say)
    )
    machine.refresh_from_db()
    assert machine.status == "retired" or len(refused(results)) == 1
    assert machine.status_changes.count() == 3 + (not refused(results))


def test_a_finding_closed_twice_at_once_keeps_one_note(scene):
    finding = report_fault(scene.machine, title="Castor drags", severity="other", by=scene.other, at=NOON)
    results = at_once(
        *(
            lambda note=note: close_finding(Finding.objects.get(pk=finding.pk), note=note, by=scene.other, at=NOON)
            for note in ("Oiled", "Replaced")
        )
    )
    assert len(refused(results)) == 1


def test_two_reasons_for_not_testing_at_once_leave_the_first(scene):
    step = scene.step("flush")
    results = at_once(
        *(
            lambda reason=reason: set_not_tested(
                InspectionStep.objects.get(pk=step.pk), reason=reason, by=scene.other, at=NOON
            )
            for reason in ("No flowmeter", "No oxygen")
        )
    )
    assert len(refused(results)) == 1


def test_the_current_state_holds_what_several_people_did_at_once(transactional_db):
    """Each action locks the row before it computes it, so that the last to end sees what the others wrote."""
    machine, by = make_machine(features={"ratio-protection": "not fitted"}), make_person("technician")
    reports = [
        lambda number=number: report_fault(machine, title=f"Fault {number}", severity="other", by=by, at=NOON)
        for number in range(4)
    ]
    feature = {"from_date": TODAY, "evidence": "seen", "by": by, "at": NOON}
    at_once(
        *reports,
        lambda: withdraw_machine(machine, reason="Sticks", by=by, at=NOON),
        lambda: record_feature_state(machine, "ratio-protection", "fitted", **feature),
    )
    row = CurrentState.objects.get(pk=machine.pk)
    assert (row.open_findings, row.status, row.missing) == (4, "withdrawn", 0)
    assert list(compare_all()) == []


def test_the_kept_rows_hold_what_several_people_did_at_once_to_the_same_machines(transactional_db):
    """Reports, moves, a void and a feature of two machines, each pair in either order, by ten people."""
    machines, by = [make_machine(features={"ratio-protection": "not fitted"}) for _ in range(2)], make_person("planner")
    missed = [make_inspection(one, due_on=TODAY - timedelta(days=100)) for one in machines]
    fill(REVIEWS, at=NOON, day=TODAY)
    feature = {"from_date": TODAY, "evidence": "seen", "by": by, "at": NOON}

    def to_both(first):
        for machine in (machines[first], machines[1 - first]):
            report_fault(machine, title=f"Fault of {first}", severity="other", by=by, at=NOON)

    results = at_once(
        *(partial(to_both, first) for first in (0, 1, 0, 1)),
        *(partial(record_feature_state, one, "ratio-protection", "fitted", **feature) for one in machines),
        *(partial(void_inspection, fresh(one), reason="Not found", by=by, at=NOON) for one in missed),
        *(partial(withdraw_machine, one, reason="Sticks", by=by, at=NOON) for one in machines),
    )
    assert refused(results) == []
    assert Finding.objects.count() == 8
    assert list(compare_all()) == []
    assert {kind.name: list(compare(kind)) for kind in KINDS} == {kind.name: [] for kind in KINDS}
    assert list(compare_counts()) == []
    assert {one.answer for one in KeptDueDate.objects.filter(pk__in=[one.pk for one in missed])} == {"voided"}
