"""A withdrawn machine returns to service only on a signed passing retest of what failed."""

from datetime import timedelta

import pytest

from fleet.actions import withdraw_machine
from fleet.models import StatusChange
from inspections.actions import release_machine, report_fault
from inspections.actions.findings import open_findings_of
from inspections.at_bench.step_content import is_repeated_after, worded
from inspections.at_bench.step_rows import content_at
from inspections.deciding.grounds.of_release import release_grounds
from inspections.deciding.release import candidate_retests, reasons_against_release
from inspections.errors import ReleaseRefused
from inspections.models import Finding, Procedure, Result, SignedRecord
from tests.factories import (
    NOON,
    bench_result,
    load_all_procedures,
    make_component,
    make_inspection,
    make_machine,
    make_person,
    make_signed_inspection,
)

WITHDRAWN, RETESTED, RELEASED = (NOON + timedelta(hours=hours) for hours in (1, 2, 3))
GAS = {"subject": "nitrous-oxide", "is_essential": True}


@pytest.fixture
def technician(db):
    load_all_procedures()
    return make_person("technician")


@pytest.fixture
def other(db):
    """Somebody who did not sign the retest."""
    return make_person("technician")


@pytest.fixture
def machine(technician):
    """A machine withdrawn because its supply-failure protection tripped at 21 psi."""
    machine = make_machine()
    inspection = make_signed_inspection(
        machine, by=technician, steps=[{**GAS, "results": [bench_result(21, decision="fail")]}]
    )
    results = Result.objects.filter(step__inspection=inspection).select_related("step")
    open_findings_of(inspection, results, by=technician, at=NOON)
    withdraw_machine(machine, by=technician, at=WITHDRAWN, reason="Trips at 21 psi")
    return machine


def retest(machine, by, *results, at=RETESTED, **step):
    procedure = Procedure.objects.get(code="return-to-service")
    return make_signed_inspection(machine, procedure, by=by, at=at, steps=[{**GAS, "results": results, **step}])


def test_a_passing_retest_returns_the_machine_and_closes_what_it_retested(machine, technician, other):
    passed = retest(machine, technician, bench_result(27))
    release_machine(machine, retest=passed, reason="Spring renewed", by=other, at=RELEASED)
    machine.refresh_from_db()
    change, found = machine.status_changes.first(), Finding.objects.get(machine=machine)
    assert (machine.status, change.evidence, change.by) == ("in service", str(passed), other)
    note = f"“{found}” is closed with the release of machine {machine}: {passed} passed. Spring renewed"
    assert (found.closing_note, found.closed_by) == (note, other)


@pytest.mark.parametrize("decision", ["conditional pass", "conditional fail", "fail", None])
def test_only_a_plain_pass_of_what_failed_releases(machine, technician, decision):
    done = retest(machine, technician, bench_result(25.1, decision=decision))
    with pytest.raises(ReleaseRefused):
        release_machine(machine, retest=done, reason="Put right", by=technician, at=RELEASED)
    machine.refresh_from_db()
    assert machine.status == "withdrawn" and Finding.objects.open().filter(machine=machine).exists()


@pytest.mark.parametrize(
    "changed", [{"subject": "air"}, {"test_code": "regulator"}, {"content": {"item": "Something else"}}]
)
def test_a_pass_of_something_else_does_not_release(machine, technician, changed):
    other = retest(machine, technician, bench_result(27), **changed)
    assert "needs a pass" in " ".join(reasons_against_release(machine, other))


def test_a_pass_of_another_result_of_the_same_test_does_not_release(machine, technician):
    other = retest(machine, technician, bench_result(27, key="reset"))
    assert "not tested" in " ".join(reasons_against_release(machine, other))


def test_what_was_signed_before_the_withdrawal_does_not_release(machine, technician):
    early = retest(machine, technician, bench_result(27), at=NOON)
    assert "before machine" in " ".join(reasons_against_release(machine, early))
    assert early not in candidate_retests(machine)


def test_an_unsigned_inspection_does_not_release(machine):
    with pytest.raises(ReleaseRefused, match="not a signed inspection"):
        release_machine(machine, retest=make_inspection(machine), reason="Put right", by=None, at=RELEASED)


def test_the_retest_of_another_machine_does_not_release(machine, technician):
    with pytest.raises(ReleaseRefused, match="not a signed inspection of machine"):
        release_machine(
            machine,
            retest=retest(make_machine(), technician, bench_result(27)),
            reason="Put right",
            by=None,
            at=RELEASED,
        )


def test_a_second_failure_in_the_retest_stands_against_the_release(machine, technician):
    mixed = retest(machine, technician, bench_result(27), bench_result(1, key="alarm", decision="fail"))
    assert "is a fail" in " ".join(reasons_against_release(machine, mixed))


def test_a_fault_report_must_be_named_as_retested(machine, technician):
    reported = report_fault(machine, title="Flush sticks", severity="essential", by=technician, at=WITHDRAWN)
    passed = retest(machine, technician, bench_result(27))
    assert "did not retest" in " ".join(reasons_against_release(machine, passed))
    passed.retests.add(reported)
    assert reasons_against_release(machine, passed) == []


def test_a_machine_is_released_once(machine, technician, other):
    passed = retest(machine, technician, bench_result(27))
    release_machine(machine, retest=passed, reason="Spring renewed", by=other, at=RELEASED)
    with pytest.raises(ReleaseRefused, match="in service, not withdrawn"):
        release_machine(machine, retest=passed, reason="Spring renewed", by=other, at=RELEASED)


@pytest.mark.parametrize(("status", "is_same_day"), [("in service", False), ("in service", True), ("withdrawn", False)])
def test_pages_show_the_withdrawal_in_force_and_not_what_was_entered_last(machine, other, client, status, is_same_day):
    """A register file brings what happened earlier, or on the same day, later than the withdrawal was entered."""
    day = WITHDRAWN.date() if is_same_day else machine.in_use_from
    StatusChange.objects.create(
        machine=machine, status=status, changed_on=day, reason="Entered from the register",
        by=other, recorded_at=RELEASED,
    )  # fmt: skip
    finding = Finding.objects.open().get(machine=machine)
    client.force_login(other)
    assert machine.status_change_in_force().status == "withdrawn"
    for address in (f"/machines/{machine.pk}/release/", finding.get_absolute_url()):
        page = client.get(address).text
        assert machine.status_change_in_force().reason in page and "Entered from the register" not in page
    assert "Entered from the register" not in str(release_grounds(machine, _signed(machine, other)))


def _signed(machine, by):
    retest = make_signed_inspection(machine, by=by, at=RETESTED)
    SignedRecord.objects.create(inspection=retest, content="{}", digest="0" * 64, signed_at=RETESTED)
    return retest


SERVED = {"outlet-lock": "outlet-retention", "gauge": "gauges", "cylinder-yoke": "yoke-check-valves"}


def shipped_step(code):
    """A step of the yearly inspection as loaded, for make_signed_inspection."""
    content = Procedure.objects.get(code="yearly").current_version().content
    step = next(step for step in content["step"] if step["code"] == code)
    return {"code": code, "title": step["title"], "test_code": step["test"], "content": worded(step)}


class TestAfterWorkOnAComponent:
    """A release rests on tests of what failed and of what the repaired component serves."""

    @pytest.fixture(params=SERVED)
    def kind(self, request, machine):
        make_component(machine, kind=request.param, label="The new one", gas="oxygen", fitted_on=NOON.date())
        return request.param

    def all_served(self, kind):
        steps = Procedure.objects.get(code="yearly").current_version().content["step"]
        return [step["code"] for step in steps if is_repeated_after(step, kind)]

    def of_component(self, machine, code):
        """What a step of one component says of it: which it is, and what its record answers."""
        content = shipped_step(code)["content"]
        kind = content.get("component")
        component = machine.components.filter(kind=kind).first() if kind else None
        if component is None:
            return {}
        return {"component": component, "subject": component.label, "content": content_at(content, component)}

    def retest(self, machine, by, codes, **left_out):
        rest = [{**shipped_step(code), **self.of_component(machine, code), "results": [bench_result()],
                 **left_out.get(code.replace("-", "_"), {})} for code in codes]  # fmt: skip
        procedure = Procedure.objects.get(code="return-to-service")
        steps = [{**GAS, "results": [bench_result(27)]}, *rest]
        return make_signed_inspection(machine, procedure, by=by, at=RETESTED, steps=steps)

    def test_a_retest_of_all_that_it_serves_releases(self, machine, technician, kind):
        done = self.retest(machine, technician, self.all_served(kind))
        assert reasons_against_release(machine, done) == []

    def test_a_retest_without_what_it_serves_does_not(self, machine, technician, kind):
        [reason, *_] = reasons_against_release(machine, self.retest(machine, technician, []))
        assert reason.endswith("did not test it.") and "After work on: The new one." in reason

    @pytest.mark.parametrize(
        "left_out", [{"not_tested_reason": "no time", "results": []}, {"results": []},
                     {"results": [bench_result(decision="not decided")]}]
    )  # fmt: skip
    def test_one_that_was_left_untested_does_not_release(self, machine, technician, kind, left_out):
        served = SERVED[kind]
        done = self.retest(machine, technician, self.all_served(kind), **{served.replace("-", "_"): left_out})
        title = shipped_step(served)["title"]
        assert [reason.split(":")[0] for reason in reasons_against_release(machine, done)] == [title]

    def test_a_component_replaced_before_the_finding_asks_for_nothing(self, machine, technician):
        make_component(machine, kind="outlet-lock", label="An old one", fitted_on=NOON.date() - timedelta(days=1))
        assert reasons_against_release(machine, self.retest(machine, technician, [])) == []
