"""Kept counts are what the rows say after any action, and a page that adds them up shows what counting shows."""

from datetime import timedelta

import pytest
from django.core.management import CommandError, call_command

from fleet.acting.rows import read_states
from fleet.acting.scope import acting, outside_actions
from fleet.actions import correct_machine, move_machine, retire_machine, send_away, take_back, withdraw_machine
from fleet.models import Area, AwayPeriod
from inspections.actions import book_inspection, void_inspection
from inspections.kept.kinds import after_migrations
from inspections.kept_counts import work_counts
from inspections.kept_counts.counts import NAME, compare_counts, counts_hold, fill_counts, renew_written
from inspections.models import Inspection, KeptCount, KeptRules, Procedure
from inspections.schedule.area_minimums import areas_with_minimum, areas_with_minimum_of, shortfalls
from inspections.schedule.headings import NOT_COUNTED, Headings
from tests.factories import (
    NOON,
    TODAY,
    load_all_procedures,
    make_area,
    make_away,
    make_inspection,
    make_machine,
    make_open_inspection,
    make_person,
    make_signed_inspection,
)

pytestmark = pytest.mark.renewed_at_once
ASKED = {"days": 30, "week": None, "until": None, "since": None}


class _App:
    label = "inspections"


@pytest.fixture
def yearly(db):
    load_all_procedures()
    return Procedure.objects.get(code="yearly")


@pytest.fixture
def areas(yearly):
    """Two areas of two sites with work of every stage, due before and after today."""
    areas, person = [make_area(minimum_machines=2), make_area(minimum_machines=1)], make_person("technician")
    for area in areas:
        machines = [make_machine(area=area) for _ in range(3)]
        for days in (-90, -40, 5, 20, 29, 31, 200):
            make_inspection(machines[0], yearly, due_on=TODAY + timedelta(days=days))
        for machine in machines[:2]:
            booked = make_inspection(machine, yearly, due_on=TODAY + timedelta(days=60))
            book_inspection(booked, technician=person, booked_on=TODAY + timedelta(days=3), by=None, at=NOON)
        make_open_inspection(machines[1], yearly, by=person)
        make_signed_inspection(machines[2], yearly, by=person)
        twice = make_signed_inspection(machines[2], yearly, by=person, due_on=TODAY - timedelta(days=1))
        second = {"countersigned_by": make_person("technician"), "countersigned_at": NOON}
        Inspection.objects.filter(pk=twice.pk).update(stage="countersigned", **second)
        voided = make_inspection(machines[2], yearly, due_on=TODAY + timedelta(days=7))
        void_inspection(voided, reason="Planned twice", by=person, at=NOON)
    return areas


def counted(inspection_rows, person, sites):
    headings = Headings(person, TODAY, ASKED, inspection_rows)
    return {name: headings.rows(name).count() for name in headings.labels if name not in NOT_COUNTED}, headings.counts(
        sites=sites
    )


@pytest.mark.parametrize("groups", [["planner"], ["technician"], ["planner-in-chief", "technician"]])
def test_the_numbers_under_the_headings_are_those_of_the_rows_at_any_sites(areas, groups):
    everyone, own = make_person(*groups), [area.site for area in areas]
    limited, of_two = make_person(*groups, sites=own[:1]), make_person(*groups, sites=own)
    make_signed_inspection(areas[0].machines.first(), Procedure.objects.get(code="yearly"), by=everyone)
    for person in (everyone, limited, of_two):
        rows = Inspection.objects.visible_to(person)
        by_rows, by_counts = counted(rows, person, person.site_ids)
        assert by_rows == by_counts and by_rows["overdue"] and by_rows["due"] and by_rows["bench"]
        assert counts_hold() and work_counts.counted_signed(person.site_ids) == rows.with_signature().count() > 0
    narrowed = Inspection.objects.of_sites([own[1].pk])
    by_rows, by_counts = counted(narrowed, everyone, [own[1].pk])
    assert by_rows == by_counts


def test_the_areas_left_short_are_those_that_the_bookings_leave_short(areas):
    person, period = make_person("planner"), (TODAY, TODAY + timedelta(days=30))
    make_away(areas[0].machines.last())
    counts_hold()
    from_counts = areas_with_minimum_of(person)
    assert from_counts == areas_with_minimum(Area.objects.all())
    found = [(one.area.pk, one.left) for one in shortfalls(from_counts, *period)]
    assert found == [(areas[0].pk, 0)]
    KeptRules.objects.filter(kind=NAME).update(rules="others")
    assert not counts_hold()
    assert [(one.area.pk, one.left) for one in shortfalls(areas_with_minimum_of(person), *period)] == found


def test_a_machine_takes_its_work_along_to_another_site_and_out_of_use(areas):
    machine, by = areas[0].machines.first(), {"by": None, "at": NOON}

    def at(area):
        found = work_counts.counted_work(("due", "booked"), [area.site_id], today=TODAY, last_due=TODAY)
        return found["booked"], dict(work_counts.machines_at_hand()).get(area.pk, 0)

    assert [at(area) for area in areas] == [(2, 3), (2, 3)]
    move_machine(machine, area=areas[1], on=TODAY, evidence="Seen there", **by)
    assert [at(area) for area in areas] == [(1, 2), (3, 4)]
    send_away(
        machine, kind="lent", to_whom="County hospital", from_date=TODAY, expected_on=TODAY, reason="Asked for", **by
    )  # fmt: skip
    assert at(areas[1]) == (3, 3)
    take_back(AwayPeriod.objects.get(), returned_on=TODAY, **by)
    withdraw_machine(machine, reason="Leaks", **by)
    assert at(areas[1]) == (3, 3)
    retire_machine(machine, reason="Worn", **by)
    assert list(compare_counts()) == []


def test_a_machine_and_its_work_that_change_in_one_action_are_counted_once(areas):
    machine = areas[0].machines.first()
    with acting("both"):
        correct_machine(machine, area=areas[1], by=None, at=NOON)
        void_inspection(machine.inspections.order_by("pk").first(), reason="Planned twice", by=None, at=NOON)
    assert list(compare_counts()) == []


def test_a_number_altered_outside_of_actions_is_found_and_mended(areas, capsys):
    assert list(compare_counts()) == []
    with outside_actions():
        altered = KeptCount.objects.filter(tally="open").order_by("pk").first()
        KeptCount.objects.filter(pk=altered.pk).update(number=altered.number + 4)
        KeptCount.objects.filter(tally="at hand", location=areas[0].pk).delete()
    with pytest.raises(CommandError, match="Rows differ"):
        call_command("kept_rows", check=True)
    shown = capsys.readouterr().out
    assert "Counts: 2 differ." in shown and f"at hand|{areas[0].pk}|" in shown and ": 0 instead of 3." in shown
    found = fill_counts(at=NOON)
    assert [one.key for one in found] == [altered.key, f"at hand|{areas[0].pk}||0001-01-01|0001-01-01"]
    assert list(compare_counts()) == []


def test_numbers_of_nothing_are_deleted_at_night(areas):
    for one in Inspection.objects.planned():
        void_inspection(one, reason="Planned twice", by=None, at=NOON)
    nothing = KeptCount.objects.filter(tally="open", number=0)
    assert nothing.exists() and fill_counts(at=NOON) == []
    assert not nothing.all().exists()


def test_counts_of_other_rules_are_neither_used_nor_renewed_until_they_are_filled(areas):
    assert counts_hold()
    KeptRules.objects.filter(kind=NAME).update(rules="others")
    before = list(KeptCount.objects.values_list("key", "number"))
    withdraw_machine(areas[0].machines.first(), reason="Leaks", by=None, at=NOON)
    assert not counts_hold() and list(KeptCount.objects.values_list("key", "number")) == before
    assert work_counts.counted_work(("due",), [], today=TODAY, last_due=TODAY) is None
    after_migrations(_App, using="default")
    assert counts_hold() and list(compare_counts()) == []


@pytest.mark.real_journal
@pytest.mark.django_db(transaction=True)
def test_an_action_that_has_written_what_is_counted_reads_no_numbers():
    """Its own numbers are renewed at its end, last of all, since other actions wait for these rows."""
    machine = make_machine()
    fill_counts(at=NOON)
    with acting("withdraw"):
        assert counts_hold()
        withdraw_machine(machine, reason="Leaks", by=None, at=NOON)
        assert not counts_hold()
    assert counts_hold() and dict(work_counts.machines_at_hand()) == {}


def test_what_is_written_and_counts_the_same_asks_for_no_numbers(areas, django_assert_num_queries):
    one = Inspection.objects.planned().first()
    counts_hold()
    before = read_states(Inspection, [one.pk], "default")
    Inspection.objects.filter(pk=one.pk).update(note="Ask the ward")
    with django_assert_num_queries(1):  # reads what was written
        renew_written({Inspection: before}, "default", {})
