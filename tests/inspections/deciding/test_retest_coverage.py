"""What the page of a release lists: what the retest covered, what is untested, and what only others tested."""

from datetime import timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from fleet.actions import withdraw_machine
from inspections.actions import report_fault
from inspections.deciding.retest_coverage import coverages
from inspections.models import Finding, Procedure
from tests.decisions import decision, send
from tests.factories import (
    NOON,
    bench_result,
    load_all_procedures,
    make_machine,
    make_person,
    make_signed_inspection,
)

RETESTED = NOON + timedelta(hours=1)
KINDS = {
    "pass": {"results": [bench_result()]},
    "fail": {"results": [bench_result(value=21, decision="fail")]},
    "left": {"results": [], "not_tested_reason": "No gauge today"},
    "open": {"results": [bench_result(decision="not decided")]},
    "nothing": {"results": []},
    "absent": {"results": [], "applies": False, "absence": "Not fitted"},
}
SETTLED = {"pass", "fail"}
GASES = ("nitrous-oxide", "air", "carbon-dioxide")


@pytest.fixture(autouse=True)
def two_hours_later(time_machine):
    time_machine.move_to(NOON + timedelta(hours=2), tick=False)


@pytest.fixture
def technician(db):
    load_all_procedures()
    return make_person("technician")


@pytest.fixture
def machine(technician):
    machine = make_machine()
    report_fault(machine, title="Flush sticks", severity="essential", by=technician, at=NOON)
    withdraw_machine(machine, by=technician, at=NOON, reason="Flush sticks")
    return machine


def signed(machine, by, kinds, *, code="return-to-service", at=RETESTED):
    """A signed inspection whose step for each gas is of the kind that `kinds` maps it to."""
    kinds = kinds or {"oxygen": "absent"}
    steps = [
        {"code": f"step-{gas}", "title": f"Cut-off {code}", "subject": gas, **KINDS[kind]}
        for gas, kind in kinds.items()
    ]
    return make_signed_inspection(machine, Procedure.objects.get(code=code), by=by, at=at, steps=steps)


def subjects(lines):
    return [line.step.subject for line in lines]


of_gases = st.fixed_dictionaries({}, optional={gas: st.sampled_from(sorted(KINDS)) for gas in GASES})


@settings(
    max_examples=15, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow]
)
@given(own=of_gases, before=of_gases, monthly=of_gases)
def test_every_step_that_applies_is_listed_once_where_it_belongs(technician, own, before, monthly):
    machine = make_machine()
    signed(machine, technician, before, code="yearly", at=NOON - timedelta(days=9))
    signed(machine, technician, monthly, code="half-yearly", at=NOON - timedelta(days=3))
    retest = signed(machine, technician, own)
    found = coverages(machine, [retest])[retest.pk]
    newest = {**before, **{gas: kind for gas, kind in monthly.items() if kind != "absent"}}
    newest = {**newest, **{gas: before[gas] for gas, kind in monthly.items() if kind == "absent" and gas in before}}
    here = {gas for gas, kind in own.items() if kind != "absent"}
    elsewhere = {gas: kind for gas, kind in newest.items() if gas not in here and kind != "absent"}
    assert set(subjects(found.covered)) == {gas for gas in here if own[gas] in SETTLED}
    assert set(subjects(found.not_repeated)) == {gas for gas, kind in elsewhere.items() if kind in SETTLED}
    left = {gas for gas in here if own[gas] not in SETTLED} | {
        g for g, kind in elsewhere.items() if kind not in SETTLED
    }
    assert set(subjects(found.untested)) == left
    listed = [*found.covered, *found.not_repeated, *found.untested]
    assert len(subjects(listed)) == len(set(subjects(listed))) and all(line.words for line in listed)


def test_the_page_lists_what_is_covered_untested_not_covered_closed_and_left_open(client, technician, machine):
    signed(machine, technician, {"air": "pass", "carbon-dioxide": "left"}, code="yearly", at=NOON - timedelta(days=9))
    retest = signed(machine, technician, {"nitrous-oxide": "pass"})
    retest.retests.set(Finding.objects.all())
    report_fault(machine, title="Label is torn", severity="other", by=technician, at=RETESTED)
    client.force_login(make_person("technician"))
    page = client.get(f"/machines/{machine.pk}/release/").text
    for words in ("which closes:</p><ul><li><a", "Still open afterwards:", "Label is torn", "Untested on this machine:",
                  "carbon dioxide: No gauge today", "Covered by this retest: 1 step<",
                  "Not covered: 1 step that other inspections tested last"):  # fmt: skip
        assert words in page.replace("\n", "").replace("              ", ""), words
    answer = send(client, f"/machines/{machine.pk}/release/", decision(), retest=retest, follow=True)
    assert "Closed: “Flush sticks”. Still open: “Label is torn”." in answer.text
    note = Finding.objects.get(title="Flush sticks").closing_note
    assert note.startswith(f"“Flush sticks” is closed with the release of machine {machine}: {retest} passed.")


@pytest.mark.parametrize("group", ["auditor", "planner", "manager"])
def test_readers_see_the_same_lists_and_no_form(client, technician, machine, group):
    retest = signed(machine, technician, {"nitrous-oxide": "pass"})
    retest.retests.set(Finding.objects.all())
    client.force_login(make_person(group))
    page = client.get(f"/machines/{machine.pk}/release/").text
    assert "Covered by this retest" in page and "Flush sticks" in page and 'name="password"' not in page


def test_more_retests_cost_no_more_queries_for_what_they_covered(technician, machine, django_assert_num_queries):
    retests = [signed(machine, technician, {"air": "pass"}, at=RETESTED + timedelta(minutes=n)) for n in range(6)]
    for some in (retests[:1], retests):
        with django_assert_num_queries(3):
            coverages(machine, some)
