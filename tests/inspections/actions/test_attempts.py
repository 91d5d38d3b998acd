"""An attempt says what happened instead, and leaves the inspection open and due as it was."""

from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils import timezone

from fleet.models import Machine
from inspections.actions import book_inspection, close_finding, open_inspection, record_attempt, void_inspection
from inspections.errors import Refused, StageRefused
from inspections.models import Attempt, AttemptKind, Finding, Inspection
from inspections.models.querysets.attempts import machines_attempted_several_times, with_attempts
from tests.factories import NOON, TODAY, make_away, make_inspection, make_machine, make_person

WHOLE = {"reason": "List full", "decided_by": "Head nurse", "until": TODAY + timedelta(days=20)}


@pytest.fixture
def by(db):
    return make_person("technician")


def lost(inspection, by, days):
    return record_attempt(inspection, kind="not located", by=by, at=NOON + timedelta(days=days))


def details(kind):
    """What a kind needs, and no more."""
    needed = {"deferred": WHOLE, "refused": WHOLE | {"until": None}, "lent": {"reason": "To the north site"},
              "outside repair": {"reason": "Valve"}}  # fmt: skip
    return needed.get(kind, {})


@pytest.mark.parametrize("kind", AttemptKind.values)
def test_an_attempt_changes_nothing_of_its_inspection(by, kind):
    inspection = make_inspection()
    book_inspection(inspection, technician=by, booked_on=TODAY, by=by, at=NOON)
    before = Inspection.objects.filter(pk=inspection.pk).values().get()
    made = record_attempt(inspection, kind=kind, by=by, at=NOON, **details(kind))
    assert (made.by, made.at, made.made_on, made.kind) == (by, NOON, TODAY, kind)
    assert Inspection.objects.filter(pk=inspection.pk).values().get() == before


@pytest.mark.parametrize("without", WHOLE)
def test_a_deferral_names_who_decided_why_and_until_when(by, without):
    inspection, part = make_inspection(), {name: value for name, value in WHOLE.items() if name != without}
    with pytest.raises(Refused, match="needs"):
        record_attempt(inspection, kind="deferred", by=by, at=NOON, **part)
    with pytest.raises(IntegrityError), transaction.atomic():
        Attempt.objects.create(inspection=inspection, kind="deferred", made_on=TODAY, by=by, at=NOON, **part)


def test_a_deferral_may_end_today_and_not_in_the_past(by):
    inspection = make_inspection()
    with pytest.raises(Refused, match="1 Nov 2026 is past. Enter today, 2 Nov 2026, or a later day"):
        record_attempt(inspection, kind="deferred", by=by, at=NOON, **WHOLE | {"until": TODAY - timedelta(days=1)})
    assert record_attempt(inspection, kind="deferred", by=by, at=NOON, **WHOLE | {"until": TODAY}).until == TODAY


@pytest.mark.parametrize("kind", ["not located", "in use", "refused"])
def test_only_a_deferral_and_an_absence_take_a_day(by, kind):
    with pytest.raises(Refused, match="takes no day"):
        record_attempt(make_inspection(), kind=kind, by=by, at=NOON, **WHOLE)


def test_the_same_attempt_is_recorded_once_a_day(by):
    inspection = make_inspection()
    lost(inspection, by, 0)
    with pytest.raises(Refused, match="today already"):
        lost(inspection, by, 0)
    lost(inspection, by, 1)
    assert inspection.attempts.count() == 2


def test_only_what_is_planned_or_booked_is_attempted(by):
    started, void = make_inspection(), make_inspection()
    open_inspection(started, by=by, at=NOON)
    void_inspection(void, reason="Twice", by=by, at=NOON)
    for inspection in (started, void):
        with pytest.raises(StageRefused, match="planned or booked"):
            lost(inspection, by, 0)


def test_a_machine_that_nobody_located_twice_gets_one_finding(by):
    machine = make_machine()
    one, other = make_inspection(machine), make_inspection(machine)
    lost(one, by, 0)
    assert not Finding.objects.exists()
    lost(other, by, 3)
    lost(one, by, 4)
    finding = Finding.objects.get()
    assert (finding.origin, finding.machine, finding.is_essential) == ("not located", machine, False)
    assert "2 Nov 2026 and 5 Nov 2026" in finding.description
    assert not Finding.objects.of_faults().exists()


def test_being_located_in_between_begins_the_count_again(by):
    seen, started, decided = (make_machine() for _ in range(3))
    for machine in (seen, started, decided):
        lost(make_inspection(machine), by, 0)
    record_attempt(make_inspection(seen), kind="in use", by=by, at=NOON + timedelta(days=1))
    open_inspection(make_inspection(started), by=by, at=NOON + timedelta(days=1))
    lost(make_inspection(decided), by, 1)
    close_finding(Finding.objects.get(), note="Found in the store.", by=by, at=NOON + timedelta(days=2))
    for machine in (seen, started, decided):
        lost(make_inspection(machine), by, 3)
    assert not Finding.objects.open().exists()
    lost(make_inspection(decided), by, 4)
    assert Finding.objects.open().count() == 1


def test_the_machines_attempted_several_times_are_those_with_open_inspections(by):
    machine, once, done = (make_machine() for _ in range(3))
    for days in (0, 1):
        lost(make_inspection(machine, due_on=TODAY + timedelta(days=days)), by, days)
        void = make_inspection(done)
        lost(void, by, days)
        void_inspection(void, reason="Away", by=by, at=NOON + timedelta(days=days))
    lost(make_inspection(once), by, 0)
    [found] = with_attempts(machines_attempted_several_times(Machine.objects.all()))
    first = machine.inspections.order_by("due_on").first()
    assert (found, found.attempts, found.not_located) == (machine, 2, 2)
    assert (found.waiting_since, found.last_on) == (first.closes_on, TODAY + timedelta(days=1))


def test_an_attempt_at_a_lent_machine_names_the_loan_with_its_day_and_reason(by):
    inspection = make_inspection()
    away = make_away(inspection.machine)
    made = record_attempt(inspection, kind="lent", by=by, at=NOON)
    assert (made.away, made.until) == (away, away.expected_on)
    assert made.reason == "County hospital, Ida Roth: Theirs is broken"
    other = record_attempt(inspection, kind="outside repair", reason="Valve", by=by, at=NOON)
    assert (other.away, other.until) == (None, None)  # another kind than what is recorded


def test_the_form_of_an_attempt_begins_with_the_loan(client, by):
    inspection = make_inspection()
    away = make_away(inspection.machine, expected_on=timezone.localdate() + timedelta(days=5))
    client.force_login(by)
    page = client.get(reverse("inspections:attempt", args=[inspection.pk]))
    assert page.context["form"].initial["until"] == away.expected_on
    assert "The machine is away: lent, County hospital" in page.content.decode()
