from datetime import date

import pytest

from fleet.actions import fit_component
from fleet.errors import RegisterRefused
from fleet.imports import Scope, plan_import
from fleet.imports.uploads import confirm_upload, import_register, keep_upload
from fleet.models import StatusChange, FeatureState, Machine, RegisterUpload
from fleet.register_file import parse_register
from tests.factories import NOON, TODAY, make_area, make_machine, make_model, make_person, make_site

HEADER = "asset_number,model,site,area,built_year,in_use_from,duty,ratio-protection\n"
NEW = "A-1,three,north,Theatre 1,1984,1985-03-01,,\nA-2,three,north,Theatre 1,1990,1991-03-01,withdrawn,fitted\n"


@pytest.fixture
def place(db):
    make_model(code="three", features={"ratio-protection": "not fitted", "o2-analyser": "fitted"})
    return make_area(make_site(code="north"), name="Theatre 1")


def planned(text):
    return plan_import(parse_register(text.encode()), Scope.of(None, TODAY))


def run(text):
    import_register(planned(text), by=None, at=NOON, source="list.csv")


def held(asset_number):
    rows = FeatureState.objects.filter(machine__asset_number=asset_number, until_date=None)
    return {row.feature: (row.state, row.evidence) for row in rows}


def test_machines_are_created_with_the_models_protections_and_those_of_the_file(place):
    run(HEADER + NEW)
    default = {"ratio-protection": ("not fitted", "model default"), "o2-analyser": ("fitted", "model default")}
    assert held("A-1") == default
    assert held("A-2") == default | {"ratio-protection": ("fitted", "register")}


def test_a_machine_imported_as_withdrawn_has_both_changes_of_status(place):
    run(HEADER + NEW)
    machine = Machine.objects.get(asset_number="A-2")
    assert machine.status == "withdrawn"
    changes = StatusChange.objects.filter(machine=machine)
    assert [(change.status, change.changed_on) for change in changes] == [
        ("withdrawn", TODAY),
        ("in service", machine.in_use_from),
    ]
    assert "list.csv" in changes[0].reason


def test_importing_the_same_file_again_changes_nothing(place):
    run(HEADER + NEW)
    before = list(Machine.objects.values()), list(FeatureState.objects.values()), list(StatusChange.objects.values())
    plan = planned(HEADER + NEW)
    assert (plan.created, plan.updated, plan.unchanged) == ([], [], 2)
    run(HEADER + NEW)
    after = list(Machine.objects.values()), list(FeatureState.objects.values()), list(StatusChange.objects.values())
    assert after == before


def test_an_existing_machine_is_corrected_and_its_protection_changes_from_today(place):
    run(HEADER + NEW)
    run("asset_number,built_year,ratio-protection\nA-1,1985,fitted\n")
    machine = Machine.objects.get(asset_number="A-1")
    assert machine.built_year == 1985
    row = FeatureState.objects.get(machine=machine, feature="ratio-protection", until_date=None)
    assert (row.state, row.evidence, row.from_date, row.note) == (
        "fitted", "register", TODAY, "Imported from list.csv",
    )  # fmt: skip


def test_a_file_with_one_problem_changes_nothing(place):
    with pytest.raises(RegisterRefused, match="1 problems"):
        run(HEADER + NEW + "A-3,four,north,Theatre 1,1984,1985-03-01,,\n")
    assert not Machine.objects.exists()


def test_a_refused_correction_takes_back_the_whole_import(place):
    run(HEADER + NEW)
    machine = Machine.objects.get(asset_number="A-1")
    fit_component(machine, kind="apl-valve", label="APL", fitted_on=date(1990, 1, 1), by=None, at=NOON)
    with pytest.raises(RegisterRefused, match="history before"):
        run(HEADER + "A-9,three,north,Theatre 1,1984,1985-03-01,,\nA-1,,,,,2000-01-01,,\n")
    assert not Machine.objects.filter(asset_number="A-9").exists()


def test_a_machine_entered_meanwhile_takes_back_the_whole_import(place):
    plan = planned(HEADER + NEW)
    make_machine(asset_number="A-2")
    with pytest.raises(RegisterRefused, match="after the preview"):
        import_register(plan, by=None, at=NOON, source="list.csv")
    assert not Machine.objects.filter(asset_number="A-1").exists()


def test_a_kept_file_is_imported_once(place):
    person = make_person("planner")
    upload = keep_upload(name="list.csv", content=(HEADER + NEW).encode(), by=person, at=NOON)
    plan = planned(HEADER + NEW)
    confirm_upload(upload, plan, by=person, at=NOON)
    with pytest.raises(RegisterRefused, match="already imported"):
        confirm_upload(upload, plan, by=person, at=NOON)
    assert Machine.objects.count() == 2


def test_an_upload_drops_what_the_same_person_left_unconfirmed(place):
    person = make_person("planner")
    keep_upload(name="first.csv", content=b"1", by=make_person("planner"), at=NOON)
    keep_upload(name="second.csv", content=b"2", by=person, at=NOON)
    keep_upload(name="third.csv", content=b"3", by=person, at=NOON)
    assert sorted(RegisterUpload.objects.values_list("name", flat=True)) == ["first.csv", "third.csv"]
