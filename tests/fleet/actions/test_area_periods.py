"""Where machines were: written by every action that enters a machine, moves it or corrects its area."""

from datetime import date, timedelta
from importlib import import_module

import pytest
from django.apps import apps
from django.db import IntegrityError, connection, transaction
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.django import TestCase

from fleet.actions import change_area, correct_machine, move_machine, register_machine
from fleet.actions.area_periods import follow_areas
from fleet.errors import RegisterRefused
from fleet.models import AreaPeriod, ChangeEntry, Machine
from fleet.models.querysets.area_periods import area_on
from tests.factories import NOON, TODAY, make_area, make_machine, make_model, make_person, make_site

FIRST = date(2026, 1, 1)


def day(number):
    return FIRST + timedelta(days=number - 1)


def periods(machine):
    rows = AreaPeriod.objects.filter(machine=machine).oldest_first()
    return [(row.area, row.from_date, row.until_date) for row in rows]


def move(machine, area, on, by=None):
    return move_machine(machine, area=area, on=on, evidence="Seen there", by=by, at=NOON)


@pytest.fixture
def areas(db):
    site = make_site()
    return [make_area(site, name=name) for name in ("Alder", "Birch", "Cedar")]


@pytest.fixture
def machine(areas):
    return make_machine(area=areas[0], in_use_from=FIRST)


def test_entering_a_machine_begins_its_first_period(areas):
    machine = register_machine(
        asset_number="X", model=make_model(), area=areas[1], in_use_from=FIRST, by=make_person(), at=NOON
    )
    assert periods(machine) == [(areas[1], FIRST, None)]


def test_a_move_ends_one_period_and_begins_the_next(machine, areas):
    by = make_person("planner")
    assert move(machine, areas[1], day(10), by).area == areas[1]
    assert Machine.objects.get().area == areas[1]
    assert periods(machine) == [(areas[0], FIRST, day(10)), (areas[1], day(10), None)]
    told = ChangeEntry.objects.filter(record="machine", record_pk=machine.pk, by=by)
    assert {"Area", f"Area from {day(10)}"} == {label for entry in told for label in entry.after}


def test_a_move_dated_back_counts_until_the_next_one_that_is_recorded(machine, areas):
    move(machine, areas[1], day(10))
    move(machine, areas[2], day(5))
    assert Machine.objects.get().area == areas[1]  # where it is now is what the last move says
    assert periods(machine) == [
        (areas[0], FIRST, day(5)), (areas[2], day(5), day(10)), (areas[1], day(10), None),
    ]  # fmt: skip


def test_a_second_move_on_one_day_takes_the_place_of_the_first(machine, areas):
    move(machine, areas[1], day(10))
    move(machine, areas[2], day(10))
    assert periods(machine) == [(areas[0], FIRST, day(10)), (areas[2], day(10), None)]


@pytest.mark.parametrize(
    ("on", "area", "words"),
    [
        (day(0), 1, "is outside the time of machine"),
        (TODAY + timedelta(days=1), 1, "is outside the time of machine"),
        (day(3), 0, "already"),
    ],
)
def test_a_move_that_cannot_be_is_refused(machine, areas, on, area, words):
    with pytest.raises(RegisterRefused, match=words):
        move(machine, areas[area], on)
    assert periods(machine) == [(areas[0], FIRST, None)]


def test_a_move_without_evidence_is_refused(machine, areas):
    with pytest.raises(RegisterRefused, match="how it is known"):
        move_machine(machine, area=areas[1], on=day(4), evidence=" ", by=None, at=NOON)


def test_a_corrected_area_counts_from_today(machine, areas):
    correct_machine(machine, area=areas[1], by=None, at=NOON)
    correct_machine(machine, area=areas[2], by=None, at=NOON)
    assert periods(machine) == [(areas[0], FIRST, TODAY), (areas[2], TODAY, None)]


def test_an_import_does_as_a_correction_does(machine, areas):
    other = make_machine(area=areas[0], in_use_from=TODAY)
    follow_areas([(machine, areas[1]), (other, areas[2])], by=None, at=NOON)
    assert periods(machine) == [(areas[0], FIRST, TODAY), (areas[1], TODAY, None)]
    assert periods(other) == [(areas[2], TODAY, None)]


def test_a_new_first_day_moves_the_first_period(machine, areas):
    move(machine, areas[1], day(10))
    correct_machine(machine, in_use_from=day(4), by=None, at=NOON)
    assert periods(machine)[0] == (areas[0], day(4), day(10))
    with pytest.raises(RegisterRefused, match="recorded history"):
        correct_machine(machine, in_use_from=day(10), by=None, at=NOON)


@pytest.mark.parametrize(
    "fields",
    [
        {"from_date": day(5), "until_date": None},
        {"from_date": FIRST, "until_date": day(3)},
        {"from_date": day(5), "until_date": day(5)},
    ],
    ids=["two that last", "two that begin", "none of a day"],
)
def test_the_database_refuses_a_period_that_contradicts_another(machine, areas, fields):
    with pytest.raises(IntegrityError), transaction.atomic():
        AreaPeriod.objects.create(machine=machine, area=areas[1], evidence="-", recorded_at=NOON, **fields)


class AnyMoves(TestCase):
    """Whatever is moved, corrected and dated back: every day has exactly one area, that of the last thing said."""

    @given(st.lists(st.tuples(st.integers(1, 12), st.integers(0, 2)), max_size=8))
    def test_each_day_has_one_area(self, moves):
        site = make_site()
        areas = [make_area(site) for _ in range(3)]
        machine = make_machine(area=areas[0], in_use_from=FIRST)
        expected = {number: areas[0] for number in range(1, 13)}
        begins = {1}
        for number, area in moves:
            try:
                move(machine, areas[area], day(number))
            except RegisterRefused:
                assert expected[number] == areas[area]
                continue
            begins.add(number)
            end = min((one for one in begins if one > number), default=13)
            expected |= dict.fromkeys(range(number, end), areas[area])
        for number, area in expected.items():
            assert [row.area for row in AreaPeriod.objects.on(day(number)).filter(machine=machine)] == [area]
        assert Machine.objects.get(pk=machine.pk).area == expected[12]


def fill():
    AreaPeriod.objects.all().delete()
    import_module("fleet.migrations.0042_fill_area_periods").fill(apps, connection.schema_editor())


def test_the_migration_reads_moves_from_the_changes_of_entries(machine, areas):
    """Under the names of areas of then, two corrections on one day, and a machine that was never moved."""
    still = make_machine(area=areas[2], in_use_from=FIRST)
    first, second = (NOON.replace(month=3), NOON.replace(month=5))
    correct_machine(machine, area=areas[1], by=None, at=first)
    correct_machine(machine, area=areas[0], by=None, at=second)
    correct_machine(machine, area=areas[2], by=None, at=second + timedelta(hours=1))
    change_area(areas[1], name="Birch, renamed", by=None, at=NOON)
    fill()
    assert periods(machine) == [
        (areas[0], FIRST, first.date()), (areas[1], first.date(), second.date()), (areas[2], second.date(), None),
    ]  # fmt: skip
    assert periods(still) == [(areas[2], FIRST, None)]


def test_the_migration_goes_back_only_as_far_as_the_words_name_an_area(machine, areas):
    correct_machine(machine, area=areas[1], by=None, at=NOON.replace(month=3))
    correct_machine(machine, area=areas[2], by=None, at=NOON.replace(month=5))
    ChangeEntry.objects.filter(at=NOON.replace(month=3)).update(before={"Area": "Somewhere"})
    fill()
    assert periods(machine) == [(areas[1], FIRST, date(2026, 5, 2)), (areas[2], date(2026, 5, 2), None)]


def test_a_machine_without_a_period_counts_where_it_is(machine, areas):
    AreaPeriod.objects.all().delete()
    assert Machine.objects.annotate(then=area_on(day(3))).get().then == areas[0].pk
