from datetime import date

import pytest

from fleet.imports import Scope, plan_import
from fleet.imports.register_rows import register_rows
from fleet.models import FeatureState, Machine
from fleet.register_file import parse_register, register_text
from tests.factories import NOON, TODAY, make_area, make_machine, make_model, make_person, make_site

HEADER = "asset_number,model,site,area,built_year,in_use_from,duty,ratio-protection"


@pytest.fixture
def place(db):
    return make_area(make_site(code="north", name="North Hospital"), name="Theatre 1")


@pytest.fixture
def model(db):
    return make_model(
        code="three", manufacturer="Test works", name="Three", features={"ratio-protection": "not fitted"}
    )


def planned(*lines, person=None):
    return plan_import(parse_register("\n".join(lines).encode()), Scope.of(person, TODAY))


def only_problem(plan):
    assert len(plan.problems) == 1, plan.problems
    return plan.problems[0]


@pytest.mark.parametrize("named", ["three", "Test works Three", "THREE"])
@pytest.mark.parametrize("site", ["north", "North Hospital"])
def test_a_new_machine_finds_its_model_and_area_by_code_or_name(place, model, named, site):
    plan = planned(HEADER, f"A-1,{named},{site},theatre 1,1984,1985-03-01,,")
    assert plan.problems == []
    assert plan.created[0].fields["model"] == model
    assert plan.created[0].fields["area"] == place
    assert plan.created[0].extra["features"] == {}


@pytest.mark.parametrize(
    ("row", "column", "accepted"),
    [
        ("A-1,four,north,Theatre 1,,1985-03-01,,", "model", "three (Test works Three)"),
        ("A-1,three,south,Theatre 1,,1985-03-01,,", "site", "North Hospital"),
        ("A-1,three,north,Theatre 9,,1985-03-01,,", "area", "Theatre 1"),
        ("A-1,three,north,Theatre 1,,,,", "in_use_from", "new to the register"),
        ("A-1,three,north,Theatre 1,,2030-01-01,,", "in_use_from", "2026-11-02"),
        ("A-1,three,north,Theatre 1,1990,1985-03-01,,", "built_year", "1985"),
        ("A-1,,north,Theatre 1,,1985-03-01,,", "model", "new to the register"),
    ],
)
def test_what_the_register_does_not_know_is_told_with_what_it_accepts(place, model, row, column, accepted):
    plan = planned(HEADER, row)
    assert (only_problem(plan).row, only_problem(plan).column) == (2, column)
    assert accepted in only_problem(plan).accepted
    assert plan.created == []


def test_an_existing_machine_changes_only_in_the_given_columns(place, model):
    machine = make_machine(asset_number="A-1", model=model, area=place, serial="S 1", built_year=1984)
    plan = planned("asset_number,built_year,serial", "A-1,1986,")
    (update,) = plan.updated
    assert (update.record, update.fields) == (machine, {"built_year": 1986})
    assert [(c.column, c.before, c.after) for c in update.changes] == [("built_year", "1984", "1986")]


def test_a_protection_that_was_never_recorded_and_is_not_known_changes_nothing(place, model):
    make_machine(asset_number="A-1", model=model, area=place)
    assert planned("asset_number,o2-analyser", "A-1,not known").unchanged == 1


def test_the_status_of_an_existing_machine_cannot_be_imported(place, model):
    make_machine(asset_number="A-1", model=model, area=place)
    assert "machine's page" in only_problem(planned("asset_number,duty", "A-1,retired")).accepted
    assert planned("asset_number,duty", "A-1,in service").problems == []


def test_a_machine_of_another_site_cannot_be_touched(place, model):
    make_machine(asset_number="A-1", model=model, area=place)
    person = make_person(sites=[make_area().site])
    problem = only_problem(planned("asset_number,serial", "A-1,9", person=person))
    assert (problem.column, "may not change" in problem.message) == ("asset_number", True)


def test_a_machine_can_move_to_an_area_of_another_site_but_not_to_a_site_alone(place, model):
    other = make_area(make_site(code="south"), name="Theatre 2")
    make_machine(asset_number="A-1", model=model, area=place)
    assert planned("asset_number,site,area", "A-1,south,Theatre 2").updated[0].fields == {"area": other}
    assert only_problem(planned("asset_number,site", "A-1,south")).column == "site"


def test_the_fingerprint_changes_when_the_register_does(place, model):
    lines = ("asset_number,built_year", "A-1,1986")
    machine = make_machine(asset_number="A-1", model=model, area=place, built_year=1984)
    first = planned(*lines).fingerprint()
    assert planned(*lines).fingerprint() == first
    Machine.objects.filter(pk=machine.pk).update(built_year=1985)
    assert planned(*lines).fingerprint() != first


def test_the_register_as_a_file_would_change_nothing(place, model):
    machine = make_machine(asset_number="A-1", model=model, area=place, note="One\nline", serial="=1+1")
    FeatureState.objects.create(
        machine=machine,
        feature="o2-analyser",
        state="fitted",
        from_date=date(2020, 1, 1),
        evidence="seen",
        recorded_at=NOON,
    )
    text = register_text(register_rows(Machine.objects.with_place(), TODAY))
    plan = planned(text)
    assert (plan.problems, plan.created, plan.updated, plan.unchanged) == ([], [], [], 1)


def test_planning_asks_the_same_number_of_queries_for_many_rows(place, model, django_assert_num_queries):
    rows = [f"A-{number},three,north,Theatre 1,1984,1985-03-01,,fitted" for number in range(30)]
    for count in (3, 30):
        with django_assert_num_queries(7):
            assert len(planned(HEADER, *rows[:count]).created) == count
