"""The review on records of the database, against the rows of the published criteria.

Source of the criteria: ASA guidelines for determining anesthesia machine obsolescence, 2004 (items from memory).
"""

from datetime import UTC, date, datetime, timedelta

import pytest

from fleet.actions import record_feature_state, return_machine_to_service, withdraw_machine
from fleet.models import Machine
from inspections.actions import close_finding, judge_criterion, report_fault
from inspections.models import Finding
from inspections.retirement.gathering import can_be_judged, gather_facts, rank_machines, review_of, work_by_year
from inspections.review import CRITERIA, CircuitFact, Conclusion, DecidedBy, OpenHazard, Status
from tests.factories import (
    NOON,
    TODAY,
    bench_result,
    load_all_procedures,
    make_area,
    make_circuit_cover,
    make_inspection,
    make_machine,
    make_model,
    make_person,
    make_signed_inspection,
    make_site,
)

GOOD = {
    each.feature: "not fitted" if each.when == "fitted" else "fitted"
    for each in CRITERIA.values()
    if each.decided_by is DecidedBy.FEATURE
}
LATER = date(2031, 1, 1)
RELATIVE = [code for code in CRITERIA if code.startswith("R")]


def machine_with(*, parts_until=LATER, judged=True, **changes):
    """A machine on which every criterion is answered and none is met, but for the features named."""
    features = GOOD | {code.replace("_", "-"): state for code, state in changes.items()}
    machine = make_machine(model=make_model(features=features, parts_until=parts_until))
    if judged:
        for code, each in CRITERIA.items():
            if each.decided_by is DecidedBy.JUDGEMENT:
                judge(machine, code, "not met")
    return machine


def judge(machine, code, answer, at=NOON):
    judge_criterion(machine, code, answer=answer, reason="Seen by the head of the department", by=JUDGE[0], at=at)


JUDGE = []


@pytest.fixture(autouse=True)
def judge_person(db):
    JUDGE[:] = [make_person("manager", first_name="Hester", last_name="Brandt")]


def met(review):
    return [answer.criterion.code for answer in review.answers if answer.status is Status.MET]


def test_a_machine_that_meets_no_criterion_is_kept():
    review = review_of(machine_with(), TODAY)
    assert (met(review), review.conclusion, review.is_provisional) == ([], Conclusion.KEEP, False)


@pytest.mark.parametrize("code", [code for code, each in CRITERIA.items() if each.decided_by is DecidedBy.FEATURE])
def test_each_criterion_on_a_feature_is_met_by_its_recorded_state_alone(code):
    each = CRITERIA[code]
    review = review_of(machine_with(**{each.feature: each.when}), TODAY)
    assert met(review) == [code]
    expected = Conclusion.OBSOLETE if code.startswith("A") else Conclusion.CONSIDER
    assert review.conclusion is expected


def test_age_of_fifty_years_and_no_criterion_retires_nothing():
    machine = machine_with()
    Machine.objects.filter(pk=machine.pk).update(built_year=TODAY.year - 50)
    machine.refresh_from_db()
    review = review_of(machine, TODAY)
    assert review.conclusion is Conclusion.KEEP and review.absolute_met == review.relative_met == ()


def test_the_oxygen_alarm_alone_changes_the_conclusion():
    machine = machine_with(**{"o2-supply-alarm": "not fitted"})
    assert review_of(machine, TODAY).conclusion is Conclusion.OBSOLETE
    record_feature_state(
        machine, "o2-supply-alarm", "fitted", from_date=TODAY, evidence="retrofit", by=None, at=NOON, note="Whistle kit"
    )
    review = review_of(machine, TODAY)
    assert review.conclusion is Conclusion.KEEP
    reason = next(answer.reason for answer in review.answers if answer.criterion.code == "A3")
    assert reason == "Oxygen supply-pressure alarm: fitted (since 2 Nov 2026, retrofit: Whistle kit)."
    assert review_of(machine, TODAY - timedelta(days=1)).conclusion is Conclusion.OBSOLETE


def test_all_relative_criteria_together_still_only_ask_to_consider():
    changes = {CRITERIA[code].feature: CRITERIA[code].when for code in RELATIVE if CRITERIA[code].feature}
    machine = machine_with(**changes)
    for code in RELATIVE:
        if CRITERIA[code].decided_by is not DecidedBy.FEATURE:
            judge(machine, code, "met")
    review = review_of(machine, TODAY)
    assert (len(review.relative_met), len(review.absolute_met)) == (11, 0)
    assert review.conclusion is Conclusion.CONSIDER


def test_the_end_of_parts_meets_the_last_absolute_criterion_from_the_day_after():
    machine = machine_with(parts_until=TODAY)
    assert met(review_of(machine, TODAY)) == []
    assert met(review_of(machine, TODAY + timedelta(days=1))) == ["A11"]


def test_what_nobody_recorded_is_an_open_question_and_makes_the_conclusion_provisional():
    review = review_of(make_machine(features={}, model=make_model()), TODAY)
    assert review.conclusion is Conclusion.KEEP and review.is_provisional
    assert "A1" in [answer.criterion.code for answer in review.open_questions]


def test_a_machine_without_nitrous_oxide_needs_no_ratio_protection():
    model = make_model(features=GOOD | {"ratio-protection": "not fitted"}, gases=["oxygen", "air"])
    review = review_of(make_machine(model=model), TODAY)
    assert "A1" not in met(review)


def test_a_machine_without_ventilator_needs_no_way_to_shut_the_valve_out():
    model = make_model(features=GOOD | {"apl-excluded": "not fitted"}, lacks=["ventilator"])
    assert "R1" not in met(review_of(make_machine(model=model), TODAY))


def test_the_latest_judgement_counts_and_says_who_gave_it():
    machine = machine_with(judged=False)
    judge(machine, "R8", "met", at=NOON - timedelta(days=2))
    judge(machine, "R8", "not met", at=NOON - timedelta(days=1))
    answer = next(a for a in review_of(machine, TODAY).answers if a.criterion.code == "R8")
    assert answer.status is Status.NOT_MET
    assert answer.reason == "Judged by Hester Brandt on 1 Nov 2026: Seen by the head of the department."


def test_a_person_judges_only_what_no_record_answers():
    facts = review_of(machine_with(), TODAY).facts
    judged = [code for code, each in CRITERIA.items() if can_be_judged(each, facts)]
    assert "A1" not in judged and "A11" not in judged and {"R7", "R8", "R9", "R10", "R11"} <= set(judged)
    unknown = review_of(machine_with(parts_until=None), TODAY).facts
    assert can_be_judged(CRITERIA["A11"], unknown)


def test_findings_and_failed_results_of_the_machine_reach_its_burden_with_their_links():
    machine, person = machine_with(), make_person("technician")
    at = NOON - timedelta(days=200)
    make_signed_inspection(
        machine,
        by=person,
        at=at,
        steps=[{"code": "a", "results": [bench_result(10.0, decision="fail")]}, {"code": "b"}],
    )
    report_fault(machine, title="Bobbin sticks", severity="other", by=person, at=at)
    report_fault(make_machine(), title="Elsewhere", severity="other", by=person, at=at)
    parts = {part.part.code: part for part in review_of(machine, TODAY).burden.parts}
    assert [event.title for event in parts["findings"].events] == ["Bobbin sticks"]
    assert parts["findings"].events[0].link == Finding.objects.get(title="Bobbin sticks").get_absolute_url()
    assert [event.title for event in parts["failed-outcomes"].events] == ["Oxygen supply failure, trip pressure: fail"]


def test_hours_withdrawn_are_counted_from_the_changes_of_status():
    machine, person = machine_with(), make_person("technician")
    start = datetime(2026, 5, 4, 8, 0, tzinfo=UTC)
    withdraw_machine(machine, by=person, at=start, reason="Leak")
    return_machine_to_service(machine, by=person, at=start + timedelta(hours=30), reason="Mended", evidence="Retest")
    facts = review_of(machine, TODAY).facts
    assert facts.hours_down == pytest.approx(30)


def test_a_machine_withdrawn_still_counts_its_hours_up_to_the_end_of_the_day():
    machine, person = machine_with(), make_person("technician")
    withdraw_machine(machine, by=person, at=datetime(2026, 11, 1, 12, 0, tzinfo=UTC), reason="Leak")
    assert review_of(machine, TODAY).facts.hours_down == pytest.approx(36)


def test_hours_withdrawn_before_the_two_years_of_the_review_do_not_count():
    machine, person = machine_with(), make_person("technician")
    withdraw_machine(machine, by=person, at=NOON - timedelta(days=1000), reason="Leak")
    back = NOON - timedelta(days=730)
    return_machine_to_service(machine, by=person, at=back, reason="Mended", evidence="Retest")
    assert review_of(machine, TODAY).facts.hours_down <= 24


def test_the_days_of_a_record_are_those_of_the_site():
    site = make_site(time_zone="Pacific/Auckland")
    machine = make_machine(area=make_area(site))
    report_fault(machine, title="Late", severity="other", by=None, at=datetime(2026, 5, 1, 20, 0, tzinfo=UTC))
    assert review_of(machine, TODAY).facts.findings[0].on == date(2026, 5, 2)


def test_growing_trouble_meets_the_trend_criterion():
    """Six findings in the last two of twenty-four months: Laplace statistic above 1.645 (NIST, reliability trends)."""
    machine = machine_with()
    load_all_procedures()
    make_inspection(machine, at=NOON - timedelta(days=730))
    for days in (55, 44, 33, 22, 11, 1):
        report_fault(machine, title=f"Fault {days}", severity="other", by=None, at=NOON - timedelta(days=days))
    review = review_of(machine, TODAY)
    assert met(review) == ["R7"]
    assert review.facts.watched_from == TODAY - timedelta(days=730)


def test_the_ranking_puts_more_absolute_criteria_first():
    one = machine_with(**{"pin-index": "not fitted"})
    two = machine_with(**{"pin-index": "not fitted", "single-control": "not fitted"})
    none, relative = machine_with(), machine_with(**{"flush-guard": "not fitted"})
    ranked = rank_machines(Machine.objects.all(), TODAY)
    assert [each.machine for each in ranked] == [two, one, relative, none]
    assert [each.place.place for each in ranked] == [1, 2, 3, 4]


def test_facts_take_the_same_number_of_queries_for_any_number_of_machines(django_assert_num_queries):
    make_circuit_cover(make_machine(), open={"barotrauma": (2, 1)})
    machines = list(Machine.objects.with_place())
    with django_assert_num_queries(10):
        gather_facts(Machine.objects.all(), machines, TODAY)
    for _ in range(20):
        make_circuit_cover(make_machine(model=machines[0].model), open={"hypoxic-mixture": (3, 3)})
    machines = list(Machine.objects.with_place())
    with django_assert_num_queries(10):
        gather_facts(Machine.objects.all(), machines, TODAY)


def test_what_the_computed_circuit_leaves_open_is_evidence_from_the_day_it_was_computed():
    machine = machine_with()
    make_circuit_cover(machine, open={"barotrauma": (2, 1, 1), "hypoxic-mixture": (0, 0)}, on=TODAY)
    fact = review_of(machine, TODAY).facts.circuit
    assert fact == CircuitFact(TODAY, (OpenHazard("barotrauma", 2, 1, 1, "A cause of barotrauma"),))
    assert review_of(machine, TODAY - timedelta(days=1)).facts.circuit is None
    assert review_of(make_machine(), TODAY).facts.circuit is None


def test_work_is_summed_by_year():
    machine, person = machine_with(), make_person("technician")

    for year, hours in ((2025, "1.5"), (2026, "2.0"), (2026, None)):
        at = datetime(year, 3, 1, 12, 0, tzinfo=UTC)
        found = report_fault(machine, title="Fault", severity="other", by=person, at=at)
        if hours:
            close_finding(found, note="Done", by=person, at=at, work_hours=hours)
    assert work_by_year(machine) == [(2026, 2, 2), (2025, 1, 1.5)]


def test_a_finding_after_the_day_of_the_review_does_not_count():
    machine = machine_with()
    report_fault(machine, title="Later", severity="other", by=None, at=NOON + timedelta(days=3))
    assert review_of(machine, TODAY).facts.findings == ()
