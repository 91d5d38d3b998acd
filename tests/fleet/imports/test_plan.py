"""Every kind of file is compared with the register row by row in one way."""

from types import SimpleNamespace

from fleet.imports.plan import ImportPlan, plan_rows
from fleet.register_file import MACHINES, Problem
from tests.test_rooms import ROOT, modules


def refused(row):
    return Problem(row, "asset_number", "", "is missing.", "a text.")


def test_the_rows_are_planned_in_order_with_the_problems_that_they_had_and_the_progress_is_reported_now_and_then():
    parsed, reported, planned = SimpleNamespace(kind=MACHINES, problems=[refused(401)]), [], []

    def plan_row(plan, row, told):
        planned.append(row)
        assert told == {(401, "asset_number")}
        if row == 2:
            plan.problems.append(refused(row))

    plan = plan_rows(parsed, range(402), plan_row, lambda *how_far: reported.append(how_far))
    assert isinstance(plan, ImportPlan) and plan.kind is MACHINES and planned == list(range(402))
    assert [one.row for one in plan.problems] == [2, 401] and [one.row for one in parsed.problems] == [401]
    assert reported == [(done, 402, "Comparing with the register") for done in (0, 200, 400)]


def test_no_kind_of_file_makes_a_plan_of_its_own():
    manufacturers = [name for name in modules() if "ImportPlan(" in (ROOT / f"{name}.py").read_text()]
    assert sorted(manufacturers) == [
        "fleet/imports/plan",
        "fleet/imports/reading",
    ]  # a file that cannot be read has no rows
