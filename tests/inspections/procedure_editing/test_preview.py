"""The preview shows on a machine what an inspection of it would have, and nothing is stored."""

import pytest
import time_machine

from inspections.actions import open_inspection, plan_inspection
from inspections.models import Inspection, InspectionStep, Procedure
from inspections.procedure_editing.preview import example_machines, find_machine, preview_of
from inspections.procedure_editing.written_form import written_form
from tests.factories import NOON, TODAY, load_all_procedures, make_machine, make_model, make_person, make_site


@pytest.fixture(autouse=True)
def at_noon():
    with time_machine.travel(NOON, tick=False):
        yield


@pytest.mark.parametrize("features", [{}, {"o2-supply-alarm": "not fitted", "flush-guard": "not fitted"}])
def test_the_steps_are_those_that_an_inspection_of_the_machine_has(db, features):
    load_all_procedures()
    technician = make_person("technician")
    machine = make_machine(features=features)
    procedure = Procedure.objects.get(code="yearly")
    preview = preview_of(written_form(procedure.current_version().content), machine, on=TODAY)
    assert not Inspection.objects.exists()
    inspection = plan_inspection(machine, procedure, due_on=TODAY, by=technician, at=NOON)
    open_inspection(inspection, by=technician, at=NOON)
    done = [(step.code, step.subject) for step in inspection.steps.that_apply()]
    assert [(one.step.code, one.step.subject) for one in preview.applies] == done
    left_out = inspection.steps.filter(applies=False).values_list("code", "absence")
    assert [(step.code, step.absence) for step in preview.left_out] == list(left_out)
    assert len(preview.left_out) >= len(features) and all(step.absence for step in preview.left_out)


def test_a_preview_asks_as_many_queries_for_many_steps_as_for_few(db, django_assert_num_queries):
    load_all_procedures()
    machine = make_machine()
    for code in ("yearly", "return-to-service"):
        content = written_form(Procedure.objects.get(code=code).current_version().content)
        with django_assert_num_queries(3):
            assert preview_of(content, machine, on=TODAY).applies
    assert not InspectionStep.objects.exists()


def test_a_machine_is_found_by_its_number_at_the_sites_of_the_person(db):
    machine, planner = make_machine(asset_number="AN-7"), make_person("planner")
    assert find_machine(planner, " an-7 ") == machine
    for odd in ("AN-8", "\x00", "A" * 5000, ""):
        assert find_machine(planner, odd) is None
    assert find_machine(make_person("planner", sites=[make_site(name="Elsewhere")]), "AN-7") is None


def test_one_machine_of_each_model_is_offered(db):
    models = [make_model(), make_model()]
    machines = [make_machine(model=model) for model in models for _ in range(2)]
    assert set(example_machines(make_person("planner"))) == {machines[0], machines[2]}
