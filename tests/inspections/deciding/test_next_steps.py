"""What the signed page says comes next: in order, as a button for whoever may do it and as a sentence for others."""

from datetime import timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from config.groups import GROUPS
from fleet.actions import retire_machine, withdraw_machine
from fleet.models import Machine
from inspections.actions import countersign_inspection, plan_retest, release_machine
from inspections.deciding.next_steps import way_on
from inspections.models import Finding, Inspection
from tests.factories import NOON, TODAY, load_all_procedures, make_person, make_site
from tests.inspections.scenes import FAILING

LATER = NOON + timedelta(hours=2)
ORDER = ["findings", "withdraw", "label", "retest", "release", "countersign", "next"]
MAY = {
    "withdraw": "fleet.withdraw_machine", "retest": "inspections.close_finding", "release": "fleet.release_machine",
    "countersign": "inspections.countersign_inspection",
}  # fmt: skip


@pytest.fixture(autouse=True)
def two_hours_later(time_machine):
    time_machine.move_to(LATER, tick=False)


def way(inspection, person):
    fresh = Inspection.objects.with_place().get(pk=inspection.pk)
    findings = list(Finding.objects.filter(result__step__inspection=fresh))
    return way_on(fresh, type(person).objects.get(pk=person.pk), findings=findings)


def steps(inspection, person):
    return {step.kind: step for step in way(inspection, person).steps}


def withdraw(scene):
    withdraw_machine(
        Machine.objects.get(pk=scene.machine.pk), by=scene.other, at=NOON + timedelta(minutes=70), reason="x"
    )


def failed(scene):
    """The failing essential step, signed."""
    scene.complete(FAILING)
    return scene.sign()


def retested(scene):
    """A passing retest of the withdrawn machine, signed; `scene.inspection` is the retest."""
    first = failed(scene)
    withdraw(scene)
    scene.again(at=NOON + timedelta(minutes=80))
    scene.inspection.retests.set(Finding.objects.all())
    scene.complete()
    scene.sign(at=NOON + timedelta(minutes=90))
    return first


def test_a_passing_inspection_leaves_the_countersignature_and_then_nothing(scene):
    scene.complete()
    signed = scene.sign()
    assert list(steps(signed, scene.other)) == ["label", "countersign", "next"]
    countersign_inspection(signed, by=scene.other, at=LATER)
    found = way(signed, scene.other)
    assert found.is_done and found.is_shown and [step.kind for step in found.steps] == ["label", "next"]
    assert "2 Nov 2027" in found.steps[1].says and str(scene.procedure) in found.steps[1].says


def test_an_older_record_about_which_nothing_is_left_says_nothing(scene):
    scene.complete()
    first = scene.sign()
    countersign_inspection(first, by=scene.other, at=LATER)
    assert way(first, scene.other).is_shown
    scene.again(at=NOON)
    scene.complete()
    scene.sign(at=LATER)
    assert not way(first, scene.other).is_shown and way(scene.inspection, scene.other).is_shown


def test_a_failed_essential_step_leads_to_findings_withdrawal_label_and_retest_in_this_order(scene):
    signed = failed(scene)
    found = steps(signed, scene.technician)
    assert list(found) == ["findings", "withdraw", "label", "retest", "countersign", "next"]
    finding = Finding.objects.get()
    assert found["findings"].links == found["retest"].links == ((finding.title, finding.get_absolute_url()),)
    assert f"/machines/{scene.machine.pk}/withdraw/?reason=" in found["withdraw"].url and found["withdraw"].is_urgent
    assert found["label"].url == f"/machines/{scene.machine.pk}/label.pdf"


def test_once_withdrawn_the_retest_is_planned_then_opened(scene):
    load_all_procedures()
    signed = failed(scene)
    withdraw(scene)
    found = steps(signed, scene.technician)
    assert "withdraw" not in found and found["retest"].label == "Plan the retest"
    assert "stays withdrawn" in found["release"].says and found["release"].label == "See what prevents a release"
    retest = plan_retest(scene.machine, list(Finding.objects.all()), due_on=TODAY, by=scene.technician, at=LATER)
    found = steps(signed, scene.technician)
    assert found["retest"].url == retest.get_absolute_url() and found["retest"].links == ()


def test_a_passing_retest_leads_to_the_release_on_both_records_until_it_is_done(scene):
    first = retested(scene)
    for inspection in (first, scene.inspection):
        found = steps(inspection, scene.other)
        assert "retest" not in found and found["release"].label == f"Release machine {scene.machine}"
        assert steps(inspection, scene.technician)["release"].label == f"Propose to release machine {scene.machine}"
    release_machine(
        Machine.objects.get(pk=scene.machine.pk), retest=scene.inspection, reason="Renewed", by=scene.other, at=LATER
    )
    for inspection in (first, scene.inspection):
        assert list(steps(inspection, scene.other)) == ["label", "countersign", "next"]


def test_what_an_incomplete_inspection_left_untested_is_repeated_by_the_one_that_is_planned_again(scene):
    scene.sweep()
    scene.leave_untested("supply-failure", "The regulator is frozen.")
    scene.enter("seen", "yes", code="alarm")
    scene.leave_untested("flush", "No flowmeter")
    signed = scene.sign()
    again = Inspection.objects.open().get(machine=scene.machine)
    findings = list(Finding.objects.open())
    fresh = Inspection.objects.with_place().get(pk=signed.pk)
    found = {step.kind: step for step in way_on(fresh, scene.technician, findings=findings).steps}
    assert list(found) == ["findings", "label", "retest", "countersign"]
    assert found["retest"].url == again.get_absolute_url() and "repeats what was found" in found["retest"].says


def test_nothing_is_asked_about_a_retired_machine_but_the_countersignature(scene):
    signed = failed(scene)
    retire_machine(Machine.objects.get(pk=scene.machine.pk), by=scene.other, at=LATER, reason="Old")
    assert list(steps(signed, scene.other)) == ["findings", "countersign"]


@pytest.fixture(params=["passed", "failed", "withdrawn", "retested", "retired"])
def state(request, scene):
    make = {"failed": failed, "retested": retested}.get(request.param)
    if make:
        make(scene)
    elif request.param == "passed":
        scene.complete()
        scene.sign()
    else:
        failed(scene)
        withdraw(scene)
        if request.param == "retired":
            retire_machine(Machine.objects.get(pk=scene.machine.pk), by=scene.other, at=LATER, reason="Old")
    return scene


@settings(
    max_examples=6, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
@given(groups=st.sets(st.sampled_from(sorted(GROUPS))))
def test_every_step_is_in_order_and_leads_only_where_its_reader_is_let_in(client, state, groups):
    """By group and state: an address is given to whoever may do it, and a sentence without one to everybody else."""
    person = make_person(*groups)
    found = way(state.inspection, person).steps
    assert [step.kind for step in found] == sorted((step.kind for step in found), key=ORDER.index)
    assert all(step.says and bool(step.url) == bool(step.label) for step in found)
    client.force_login(person)
    for step in found:
        if step.url and groups:
            assert client.get(step.url).status_code == 200, step
        if step.kind in MAY and not step.url.endswith("/release/"):
            assert bool(step.url) == person.has_perm(MAY[step.kind]), step


@pytest.mark.parametrize("group", ["auditor", "technician", "planner", "manager"])
def test_the_page_of_the_record_shows_the_steps(client, state, group):
    client.force_login(make_person(group))
    page = client.get(state.inspection.get_absolute_url()).text
    shown = page.partition('id="next-steps"')[2].partition("</section>")[0]
    assert "What comes next" in shown and "waits for a countersignature" in shown


def test_a_person_of_another_site_sees_none_of_it(client, state):
    client.force_login(make_person("technician", sites=[make_site()]))
    assert client.get(state.inspection.get_absolute_url()).status_code == 404


def test_the_steps_cost_a_bounded_number_of_queries(scene, django_assert_max_num_queries):
    first = retested(scene)
    person = make_person("technician")
    person.has_perm("inspections.plan_inspection")
    fresh = Inspection.objects.with_place().prefetch_related("retests").get(pk=first.pk)
    findings = list(Finding.objects.filter(result__step__inspection=first))
    with django_assert_max_num_queries(30):
        way_on(fresh, person, findings=findings)
