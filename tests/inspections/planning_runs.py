"""Each action on planning rules and lives of components as a run for tests/test_changes.py: prepare, yield, act."""

from datetime import timedelta

import inspections.actions
from inspections.at_bench.limits_looked_at import not_looked_at
from inspections.models import Procedure
from tests.factories import (
    NOON,
    TODAY,
    load_all_procedures,
    make_component,
    make_machine,
    make_signed_inspection,
    make_site,
)

LATER = NOON + timedelta(days=1)
SAID = {"reason": "Committee 4", "reference": "Policy 7", "source": "policy"}


def add_rule(machine, by, at=NOON, *, days=0, **fields):
    fields = fields or {"interval_months": 3, "window_days": 5}
    return inspections.actions.add_planning_rule(
        procedure=Procedure.objects.get(code="yearly"), reach="machine", target=machine,
        from_date=TODAY + timedelta(days=days), by=by, at=at, **SAID, **fields,
    )[0]  # fmt: skip


def planned(by):
    """A machine that is due in spring by its interval."""
    load_all_procedures()
    machine = make_machine()
    make_signed_inspection(machine, Procedure.objects.get(code="yearly"), by=by, at=NOON.replace(month=5))
    inspections.actions.plan_due_inspections(today=TODAY, at=NOON)
    return machine


def begun_tomorrow(by):
    machine = planned(by)
    add_rule(machine, by, days=1, is_planned=False)


def signed_yearly(by):
    load_all_procedures()
    machine = make_machine()
    inspections.actions.plan_inspection(
        machine, Procedure.objects.get(code="half-yearly"), due_on=TODAY, by=by, at=NOON
    )
    return make_signed_inspection(machine, Procedure.objects.get(code="yearly"), by=by, at=NOON)


def set_life(by):
    return inspections.actions.set_component_life(
        kind="battery", life=36, unit="months", from_date=TODAY, by=by, at=NOON, **SAID
    )


def read_meter(component, by):
    return inspections.actions.enter_meter_reading(component, unit="hours", used=9, read_on=TODAY, by=by, at=NOON)


def battery(_):
    return make_component(make_machine(), kind="battery")


def leave_a_limit(site, by, at=NOON, reason="Committee 4 decides in May"):
    """Leave the first limit in use that nobody looked at as it is proposed."""
    return inspections.actions.leave_limits_as_proposed(site, not_looked_at(site)[:1], reason=reason, by=by, at=at)


def limit_left(by):
    load_all_procedures()
    site = make_site()
    leave_a_limit(site, by)
    return site.limits_left.get()


PLANNING_RUNS = {
    "leave_limits_as_proposed": (
        lambda by: (load_all_procedures(), make_site())[1], lambda site, by: leave_a_limit(site, by, at=LATER)
    ),
    "take_back_limit_left": (
        limit_left,
        lambda left, by: inspections.actions.take_back_limit_left(left, reason="It was decided", by=by, at=LATER),
    ),
    "add_planning_rule": (planned, lambda machine, by: add_rule(machine, by)),
    "carry_out_rules": (
        begun_tomorrow,
        lambda _, by: inspections.actions.carry_out_rules(today=LATER.date(), by=by, at=LATER),
    ),
    "end_planning_rule": (
        lambda by: add_rule(planned(by), by),
        lambda rule, by: inspections.actions.end_planning_rule(
            rule, until_date=LATER.date(), reason="Revised", by=by, at=LATER
        ),
    ),
    "settle_contained": (
        signed_yearly, lambda one, by: inspections.actions.settle_contained(one, by=by, at=LATER)),
    "set_component_life": (set_life, lambda _, by: set_life(by)),
    "end_component_life": (
        set_life,
        lambda life, by: inspections.actions.end_component_life(
            life, until_date=LATER.date(), reason="Revised", by=by, at=LATER
        ),
    ),
    "enter_meter_reading": (battery, read_meter),
    "withdraw_meter_reading": (
        lambda by: read_meter(battery(by), by),
        lambda reading, by: inspections.actions.withdraw_meter_reading(reading, by=by, at=LATER),
    ),
}  # fmt: skip
