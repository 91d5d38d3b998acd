"""The blank bench sheet: a place for every reading that the bench asks for, in its order, with last time's values."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from inspections.actions import open_inspection, plan_inspection
from inspections.at_bench.blank_sheet import blank_steps
from inspections.at_bench.slots import fixed_choices
from inspections.bench import get_test
from inspections.models import Procedure
from inspections.reports.bench_sheet import write_bench_sheet
from tests.factories import (
    NOON,
    TODAY,
    load_all_procedures,
    make_component,
    make_inspection,
    make_machine,
    make_person,
    make_site,
)
from tests.inspections.scenes import PASSING


@pytest.fixture
def yearly(db):
    load_all_procedures()
    return make_inspection(make_machine(), Procedure.objects.get(code="yearly"))


def asked_for(blank):
    """The labels of what the bench page asks for in a step: open choices, readings, columns of tables."""
    test, fixed = get_test(blank.step.test_code), fixed_choices(blank.step)
    choices = [spec.label for spec in test.choices if spec.key not in fixed]
    return choices + [spec.label for spec in test.readings], [spec.label for spec in test.tables]


def test_the_sheet_has_a_place_for_every_reading_of_every_step_in_order(yearly, words_of):
    steps = blank_steps(yearly, on=TODAY)
    assert len(steps) > 15
    for blank in steps:
        assert ([place.label for place in blank.places], [table.label for table in blank.tables]) == asked_for(blank)
    words = " ".join(words_of(write_bench_sheet(yearly, on=TODAY)))
    starts = [words.index(f"{number}. {blank.step}"[:60]) for number, blank in enumerate(steps, start=1)]
    assert starts == sorted(starts)
    assert words.count("Not tested, because:") == len(steps)


def test_a_planned_inspection_and_the_same_one_in_progress_have_one_sheet(yearly):
    planned = [(blank.step.what, blank.places, blank.tables) for blank in blank_steps(yearly, on=TODAY)]
    open_inspection(yearly, by=make_person("technician"), at=NOON)
    assert [(blank.step.what, blank.places, blank.tables) for blank in blank_steps(yearly, on=TODAY)] == planned


def test_the_values_of_the_last_inspection_are_beside_the_boxes(scene, words_of):
    scene.complete(PASSING)
    scene.sign()
    again = plan_inspection(
        scene.machine, scene.inspection.procedure, due_on=TODAY, by=scene.technician, at=NOON + timedelta(days=1)
    )
    [supply] = [blank for blank in blank_steps(again, on=TODAY) if blank.step.code == "supply-failure"]
    falling = next(table for table in supply.tables if table.label == "Falling sweep")
    assert falling.last == tuple((f"{pressure} psi", f"{flow} L/min") for pressure, flow in PASSING)
    assert falling.rows >= len(PASSING)
    [alarm] = [blank for blank in blank_steps(again, on=TODAY) if blank.step.code == "alarm"]
    assert [place.last for place in alarm.places] == ["yes"]
    assert "26 psi" in " ".join(words_of(write_bench_sheet(again, on=TODAY)))


def test_the_sheet_is_in_the_units_that_were_chosen_for_the_inspection(scene):
    scene.complete(PASSING)
    scene.sign()
    again = plan_inspection(
        scene.machine, scene.inspection.procedure, due_on=TODAY, by=scene.technician, at=NOON + timedelta(days=1)
    )
    again.units = {"pressure": "bar"}
    [supply] = [blank for blank in blank_steps(again, on=TODAY) if blank.step.code == "supply-failure"]
    falling = next(table for table in supply.tables if table.label == "Falling sweep")
    assert "Oxygen pressure (bar)" in falling.columns
    assert {pressure.split()[-1] for pressure, _ in falling.last} == {"bar"}
    assert next(place for place in supply.places if place.label == "Oxygen pressure at the start").unit == "bar"


def test_the_sheet_asks_as_many_queries_for_many_steps(scene, yearly):
    counts = []
    for inspection in (scene.inspection, yearly):
        with CaptureQueriesContext(connection) as queries:
            blank_steps(inspection, on=TODAY)
        counts.append(len(queries))
    assert max(counts) <= 8


def test_the_sheet_says_that_it_is_no_record_and_names_the_machine(yearly, words_of):
    make_component(yearly.machine, label="Regulator of a name as long as names may be, number two")
    pages = words_of(write_bench_sheet(yearly, on=TODAY))
    assert "This sheet is no record" in pages[0]
    assert all(yearly.machine.asset_number in words for words in pages)


def test_the_sheet_is_for_inspections_that_are_open_at_the_persons_site(client, scene, yearly):
    def answer(inspection, **person):
        client.force_login(make_person("technician", **person))
        return client.get(reverse("inspections:bench_sheet", args=[inspection.pk]))

    assert answer(yearly)["Content-Type"] == "application/pdf"
    assert answer(yearly, sites=[make_site()]).status_code == 404
    scene.complete()
    signed = scene.sign()
    assert answer(signed).headers["Location"] == signed.get_absolute_url()
