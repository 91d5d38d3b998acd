import pytest

from fleet.imports import Scope, parse_upload, plan_import
from fleet.imports.uploads import import_register
from fleet.models import Component, EarlierInspection, FeatureState, Instrument, Machine
from tests.factories import NOON, TODAY, make_area, make_machine, make_model, make_site
from tests.fleet.imports.odd_files import CASES, FOLDER
from tests.fleet.register_files.make_binary import FILES

RECORDS = {
    "machines": Machine.objects.exclude(asset_number="M-1").order_by("pk"),
    "instruments": Instrument.objects.order_by("pk"),
    "components": Component.objects.order_by("pk"),
    "earlier-inspections": EarlierInspection.objects.order_by("pk"),
}


@pytest.fixture
def register(db):
    north = make_site(code="north")
    model = make_model(code="three", features={"ratio-protection": "not fitted"})
    for name in ("Théâtre 2", "Recovery – “east”"):
        make_area(north, name=name)
    make_machine(asset_number="M-1", model=model, area=make_area(north, name="Theatre 1"))


def planned(case, name):
    data = (FOLDER / name).read_bytes()
    first = parse_upload(data, case.kind)
    assert tuple(question.about for question in first.questions) == case.asks
    parsed = parse_upload(data, case.kind, case.said) if case.asks else first
    assert parsed.open_questions == ()
    return parsed, plan_import(parsed, Scope.of(None, TODAY))


def held(record, name):
    if "." in name:
        record, name = record.area, name.split(".")[1]
    if "-" in name:
        return FeatureState.objects.get(machine=record, feature=name, until_date=None).state
    return getattr(record, name)


def test_every_kept_file_has_its_case_and_there_are_forty_at_least():
    kept = {path.name for path in FOLDER.iterdir() if path.suffix in (".csv", ".tsv", ".xlsx", ".xls")}
    assert kept == set(CASES)
    assert len(kept) >= 40


def test_the_files_that_no_editor_shows_are_kept_as_their_script_makes_them():
    assert {
        name: (FOLDER / name).read_bytes() == data for name, data in FILES.items() if not name.endswith("xlsx")
    } == {name: True for name in FILES if not name.endswith("xlsx")}


@pytest.mark.parametrize("name", [name for name, case in CASES.items() if case.wrong])
def test_a_broken_file_ends_in_errors_that_name_row_column_and_what_is_accepted(register, name):
    case = CASES[name]
    _, plan = planned(case, name)
    told = sorted(plan.problems, key=lambda problem: (problem.row, problem.column, problem.message))
    expected = sorted(case.wrong)
    assert [(problem.row, problem.column) for problem in told] == [(row, column) for row, column, _ in expected]
    for problem, (_, _, part) in zip(told, expected, strict=True):
        assert part in problem.message
        assert problem.accepted
    assert not plan.is_ready


@pytest.mark.parametrize("name", [name for name, case in CASES.items() if case.made])
def test_an_odd_file_is_imported_as_it_means_and_then_says_nothing_new(register, name):
    case = CASES[name]
    parsed, plan = planned(case, name)
    assert plan.problems == []
    import_register(plan, by=None, at=NOON, source=name)
    assert len(plan.created) == case.made
    first = RECORDS[case.kind.code].first()
    assert {key: held(first, key) for key in case.values} == case.values
    for part in case.notes:
        assert any(part in note for note in parsed.notes), parsed.notes
    _, again = planned(case, name)
    assert (again.created, again.updated, again.problems) == ([], [], [])
    assert again.unchanged == case.made
