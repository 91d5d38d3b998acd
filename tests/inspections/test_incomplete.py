"""An inspection that left an essential step unproved is incomplete everywhere, and passes nowhere."""

import json
from datetime import timedelta
from io import BytesIO

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from fleet.actions import record_feature_state, withdraw_machine
from fleet.models import Evidence, State
from inspections.actions import plan_due_inspections, plan_retest, release_machine
from inspections.actions.planning import plan_again
from inspections.bench.decision_words import is_settled
from inspections.deciding.release import reasons_against_release
from inspections.kept.work_figures import work_figures
from inspections.models import Completion, Finding, Inspection
from inspections.on_machine_page.identity_facts import machine_facts
from inspections.records.signed_record import ShownRecord
from inspections.reports import label
from inspections.reports.sources import label_of
from tests.factories import (
    NOON,
    TODAY,
    bench_result,
    load_all_procedures,
    make_machine,
    make_person,
    make_signed_inspection,
    make_token,
)
from tests.inspections.scenes import FAILING, PASSING

DECISIONS = ("pass", "conditional pass", "conditional fail", "fail", "not tested", "")
LATER = NOON + timedelta(days=3)

steps = st.lists(
    st.fixed_dictionaries(
        {
            "is_essential": st.booleans(),
            "applies": st.booleans(),
            "not_tested_reason": st.sampled_from(["", "", "could not be found"]),
            "decisions": st.lists(st.sampled_from(DECISIONS), max_size=3),
        }
    ),
    min_size=1,
    max_size=5,
)


def rows_of(drawn):
    for number, step in enumerate(drawn, start=1):
        untested = not step["applies"] or step["not_tested_reason"]
        results = [] if untested else [
            bench_result(decision=word, key=f"r{place}") for place, word in enumerate(step["decisions"])
        ]  # fmt: skip
        absence = "" if step["applies"] else "not fitted"
        shown = {name: step[name] for name in ("is_essential", "applies", "not_tested_reason")}
        yield {**shown, "code": f"step-{number}", "title": f"Step {number}", "absence": absence, "results": results}


def proves(step):
    if not step["applies"] or not step["is_essential"]:
        return True
    return not step["not_tested_reason"] and is_settled(step["decisions"])


def pdf_text(content):
    return " ".join(PdfReader(BytesIO(content)).pages[0].extract_text().split())


@settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow], deadline=None, max_examples=40
)
@given(steps)
@example([{"is_essential": True, "applies": True, "not_tested_reason": "", "decisions": ["pass", "not tested"]}])
@example([{"is_essential": True, "applies": True, "not_tested_reason": "", "decisions": ["", ""]}])
@example([{"is_essential": False, "applies": True, "not_tested_reason": "could not be found", "decisions": []}])
def test_what_proves_too_little_passes_nowhere(db, client, rf, drawn):
    """The predicate of the database agrees with that in Python; no label, list, file, answer or page says pass."""
    person = make_person("planner")
    machine = make_machine()
    inspection = make_signed_inspection(machine, by=person, at=NOON, steps=list(rows_of(drawn)))
    is_complete = all(proves(step) for step in drawn)
    assert Inspection.objects.complete().filter(pk=inspection.pk).exists() is is_complete
    assert Inspection.objects.incomplete().filter(pk=inspection.pk).exists() is not is_complete
    listed = Inspection.objects.with_result().get(pk=inspection.pk)
    alone = Inspection.objects.get(pk=inspection.pk)
    assert (listed.is_incomplete, listed.result_words) == (alone.is_incomplete, alone.result_words)
    assert listed.is_incomplete is not is_complete
    client.force_login(person)
    outputs = {
        "label": pdf_text(label.write_label(label_of(machine, url="http://bobbin.example.org"))).partition("ISO")[0],
        "CSV": client.get(f"/inspections/?view=signed&export=csv&q={machine.asset_number}").getvalue().decode(),
        "fact": " ".join(f"{fact.words} {fact.mark} {fact.note}" for fact in machine_facts(rf.get("/"), machine)),
        "words": f"{listed.stage_label} {listed.result_words}",
    }
    for name, text in outputs.items():
        if not is_complete:
            assert "pass" not in text.lower() and "incomplete" in text.lower(), name
        else:
            assert "incomplete" not in text.lower(), name


def test_the_api_says_incomplete_and_not_pass(client, scene):
    scene.leave_untested("supply-failure", "could not be found")
    scene.enter("seen", "yes", code="alarm")
    scene.leave_untested("flush", "No flowmeter.")
    scene.sign()
    _, secret = make_token(make_person("technician"))
    headers = {"authorization": f"Bearer {secret}"}
    listed = client.get(f"/api/v1/inspections?machine={scene.machine.pk}&stage=signed", headers=headers).json()
    assert [(one["is_complete"], one["result"]) for one in listed["items"]] == [(False, "incomplete")]
    assert "pass" not in json.dumps(listed)


def leave_essential(scene, at=NOON + timedelta(hours=1)):
    """Sign with the essential step untested: it could not be found."""
    scene.leave_untested("supply-failure", "could not be found", at=at)
    scene.enter("seen", "yes", code="alarm", at=at)
    scene.leave_untested("flush", "No flowmeter.", at=at)
    return scene.sign(at=at)


def test_the_record_its_page_and_its_paper_say_incomplete(client, scene):
    inspection = leave_essential(scene)
    record = ShownRecord(inspection.record)
    assert record.result["words"] == "incomplete"
    assert record.result["essential_not_tested"] == [str(scene.step())]
    client.force_login(scene.technician)
    page = client.get(inspection.get_absolute_url()).text
    assert "Signed, incomplete".lower() in page.lower() and "settles no due date" in page
    paper = pdf_text(client.get(f"/inspections/{inspection.pk}/record.pdf").getvalue())
    assert "Incomplete" in paper


def test_the_page_to_sign_says_what_would_be_incomplete(client, scene):
    scene.leave_untested("supply-failure", "could not be found")
    client.force_login(scene.technician)
    assert "This inspection would be incomplete" in client.get(f"/inspections/{scene.inspection.pk}/sign/").text


def test_an_incomplete_inspection_settles_no_due_date(scene):
    due_on, closes_on = scene.inspection.due_on, scene.inspection.closes_on
    leave_essential(scene)
    [again] = Inspection.objects.open().filter(machine=scene.machine)
    assert (again.due_on, again.closes_on, again.procedure) == (due_on, closes_on, scene.procedure)
    assert plan_again(scene.inspection, by=None, at=NOON) is None
    again.delete()
    plan_due_inspections(today=TODAY, at=LATER)
    assert Inspection.objects.open().get(machine=scene.machine).due_on <= TODAY


def test_it_opens_a_finding_for_each_untested_step_once(scene):
    leave_essential(scene)
    [finding] = Finding.objects.open().filter(machine=scene.machine)
    assert (finding.origin, finding.step, finding.description) == ("not tested", scene.step(), "could not be found")
    scene.again(at=LATER)
    leave_essential(scene, at=LATER + timedelta(hours=1))
    assert Finding.objects.open().filter(machine=scene.machine).count() == 1


@pytest.mark.parametrize(("rows", "left"), [(PASSING, 0), (FAILING, 1)])
def test_the_finding_closes_when_the_step_is_tested_and_passes(scene, rows, left):
    leave_essential(scene)
    scene.again(at=LATER)
    scene.complete(rows, at=LATER)
    scene.sign(at=LATER + timedelta(hours=1))
    assert Finding.objects.open().of_untested().filter(machine=scene.machine).count() == left


def test_an_incomplete_inspection_is_not_on_time(scene):
    planner = make_person("planner")
    leave_essential(scene)
    past = scene.inspection.closes_on + timedelta(days=1)
    figure = work_figures(planner, past).on_time
    assert (figure.answers, figure.percent) == ({"open": 1}, 0)  # it is planned again
    scene.again(at=LATER)
    scene.complete(at=LATER)
    scene.sign(at=LATER + timedelta(hours=1))
    figure = work_figures(planner, past).on_time
    assert (figure.answers, figure.percent) == ({"on time": 1}, 100)


def test_the_figures_store_of_each_signature_what_its_rows_prove(scene):
    leave_essential(scene)
    scene.again(at=LATER)
    scene.complete(at=LATER)
    scene.sign(at=LATER + timedelta(hours=1))
    stored = Completion.objects.order_by("signed_on").values_list("inspection", "is_complete")
    assert [is_complete for _, is_complete in stored] == [False, True]
    proved = Inspection.objects.complete().values_list("pk", flat=True)
    assert {pk for pk, is_complete in stored if is_complete} == set(proved)


def withdrawn_scene(scene):
    withdraw_machine(scene.machine, by=scene.technician, at=NOON, reason="Valve sticks")
    scene.machine.refresh_from_db()


def test_an_incomplete_retest_releases_no_machine_and_names_the_step(scene):
    withdrawn_scene(scene)
    inspection = leave_essential(scene)
    reasons = reasons_against_release(scene.machine, inspection)
    assert any("essential step was not tested (could not be found)" in reason for reason in reasons)


def test_a_step_left_untested_twice_is_named_once(scene):
    """The retest left it out, the finding of the first inspection needs it: one sentence says both."""
    withdrawn_scene(scene)
    leave_essential(scene)
    scene.again(at=LATER)
    inspection = leave_essential(scene, at=LATER + timedelta(hours=1))
    reasons = reasons_against_release(scene.machine, inspection)
    assert len([reason for reason in reasons if str(scene.step()) in reason]) == 1, reasons


def test_a_step_left_untested_earlier_must_be_tested_before_the_release(scene):
    leave_essential(scene)
    withdrawn_scene(scene)
    other = make_signed_inspection(scene.machine, scene.procedure, by=scene.technician, at=LATER)
    assert any("needs a pass" in reason for reason in reasons_against_release(scene.machine, other))


def test_a_step_whose_feature_is_recorded_as_not_fitted_holds_nothing_up(scene):
    leave_essential(scene)
    step = scene.step()
    step.content["feature"] = "o2-failure-protection"
    type(step).objects.filter(pk=step.pk).update(content=step.content)
    record_feature_state(
        scene.machine, "o2-failure-protection", State.NOT_FITTED, from_date=TODAY, evidence=Evidence.SEEN,
        by=scene.technician, at=NOON,
    )  # fmt: skip
    withdrawn_scene(scene)
    other = make_signed_inspection(scene.machine, scene.procedure, by=scene.technician, at=LATER)
    assert reasons_against_release(scene.machine, other) == []


def test_the_release_closes_every_finding_that_its_retest_repeated(scene):
    """Also the one of scavenging that is not essential; what was not repeated stays open."""
    scene.complete(FAILING, alarm="no")
    scene.sign()
    withdrawn_scene(scene)
    findings = list(Finding.objects.open().filter(machine=scene.machine))
    assert {finding.severity for finding in findings} == {"essential", "other"}
    scene.again(at=LATER)
    scene.complete(at=LATER)
    retest = scene.sign(at=LATER + timedelta(hours=1))
    release_machine(scene.machine, retest=retest, reason="Repaired", by=scene.other, at=LATER + timedelta(hours=2))
    assert not Finding.objects.open().filter(machine=scene.machine).exists()


def test_a_finding_that_was_to_be_retested_closes_with_the_passing_signature(scene):
    scene.complete(alarm="no")
    scene.sign()
    [finding] = Finding.objects.open().filter(machine=scene.machine)
    scene.again(at=LATER)
    scene.inspection.retests.set([finding])
    scene.complete(at=LATER)
    scene.sign(at=LATER + timedelta(hours=1))
    finding.refresh_from_db()
    assert not finding.is_open and "repeated this and it passed" in finding.closing_note


def test_a_retest_brings_the_step_that_was_left_untested(scene):
    leave_essential(scene)
    load_all_procedures()
    retest = plan_retest(scene.machine, Finding.objects.open(), due_on=TODAY, by=None, at=LATER)
    assert list(retest.retests.values_list("origin", flat=True)) == ["not tested"]
