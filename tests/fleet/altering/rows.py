"""Planned alterations for tests, and how each action on them is run in tests/test_changes.py."""

from datetime import timedelta

import fleet.actions as actions
from fleet.models import AlterationEffect
from inspections.actions import ask_for_retest_of_alteration
from tests.factories import NOON, TODAY, make_machine, make_model, make_person
from tests.fleet.circuit_texts import SMALL

LATER = NOON + timedelta(days=1)


def make_alteration(*machines, by=None, mark="", **fields):
    """A plan to fit an outlet check valve on machines, by default on one with a small circuit."""
    machines = machines or (make_machine(model=make_model(circuit=SMALL)),)
    defaults = {
        "kind": "fit-outlet-check-valve", "title": f"{mark} check valves".strip(), "from_date": TODAY, "at": NOON,
        "reason": f"{mark} committee of March".strip(),
    }  # fmt: skip
    by = by or make_person("planner")
    return actions.plan_alteration(machines=list(machines), by=by, **{**defaults, **fields})


def make_alteration_rows(machine, other, by, mark=""):
    """A plan on two machines, the `other` left out, with a computed effect on the first. Return its first row."""
    plan = make_alteration(machine, other, by=by, mark=mark)
    actions.leave_out_of_alteration(plan.machines.get(machine=other), reason=f"{mark} sold", by=by, at=NOON)
    effect = AlterationEffect.objects.create(
        plan=plan, before="1" * 64, after="2" * 64, title=f"{mark} circuit", hazards={"barotrauma": [2, 1, 1, 0]},
        closed=[["barotrauma", f"{mark} relief sticks"]], fitted=["check-valve"], computed_at=NOON,
        opened=[["disconnection", f"{mark} valve comes off"]],
    )  # fmt: skip
    plan.machines.filter(machine=machine).update(effect=effect)
    return plan.machines.get(machine=machine)


def _row(by):
    return make_alteration(by=by).machines.get()


def _left_out(by):
    return actions.leave_out_of_alteration(_row(by), reason="Sold", by=by, at=NOON)


ALTERATION_RUNS = {
    "ask_for_retest_of_alteration": (
        lambda by: make_machine(),
        lambda machine, by: ask_for_retest_of_alteration(machine, "Check valve", by=by, at=LATER),
    ),
    "plan_alteration": (lambda by: make_machine(), lambda machine, by: make_alteration(machine, by=by, at=LATER)),
    "add_to_alteration": (
        lambda by: (make_alteration(by=by), make_machine()),
        lambda o, by: actions.add_to_alteration(o[0], [o[1]], by=by, at=LATER),
    ),
    "carry_out_alteration": (
        _row,
        lambda row, by: actions.carry_out_alteration(row, done_on=TODAY, evidence="Order 7", by=by, at=LATER),
    ),
    "leave_out_of_alteration": (
        _row,
        lambda row, by: actions.leave_out_of_alteration(row, reason="Sold", by=by, at=LATER),
    ),
    "take_up_alteration_again": (
        _left_out,
        lambda row, by: actions.take_up_alteration_again(row, by=by, at=LATER),
    ),
}
