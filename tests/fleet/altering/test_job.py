"""Cover before and after is computed once for each different circuit, from the circuits themselves."""

from decimal import Decimal

import pytest

from fleet.actions import carry_out_alteration, choose_currency
from fleet.altering.shown_plan import ShownPlan
from fleet.circuit.cover_rows import Status
from fleet.circuits.covers.rows_in_words import read_table
from fleet.models import AlterationEffect, AlterationPrice, CircuitCover
from tests.factories import NOON, TODAY, make_area, make_machine, make_model, make_person, make_site
from tests.fleet.altering.conftest import run_effects
from tests.fleet.altering.rows import LATER, make_alteration
from tests.fleet.money_rows import enter


def test_machines_that_share_a_circuit_share_an_effect(machines):
    plan = make_alteration(*machines)
    ended = run_effects(plan)
    assert (ended.stage, ended.result) == ("done", "2 machines looked at, 1 different circuits.")
    effect = AlterationEffect.objects.get()
    assert set(plan.machines.values_list("effect", flat=True)) == {effect.pk}
    assert effect.fitted == ["check-valve"] and CircuitCover.objects.count() == 2


def test_closed_and_opened_are_the_difference_of_the_two_cover_tables(machines):
    plan = make_alteration(machines[0], kind="nitrous-oxide-off")
    run_effects(plan)
    effect = AlterationEffect.objects.get()
    rows = {}
    for name, digest in (("before", effect.before), ("after", effect.after)):
        table = read_table(CircuitCover.objects.get(digest=digest))
        rows[name] = {(row.hazard, row.cause.title) for row in table.first_rows if row.status is Status.OPEN}
    assert {tuple(row) for row in effect.closed} == rows["before"] - rows["after"] != set()
    assert {tuple(row) for row in effect.opened} == rows["after"] - rows["before"]
    before, after = (sum(numbers[place] for numbers in effect.hazards.values()) for place in (0, 1))
    assert after < before  # without a second gas there is less that can be mixed up


def test_a_circuit_that_does_not_allow_it_and_one_that_is_missing_say_so(machines):
    plan = make_alteration(machines[0], make_machine(), kind="fit-exclusion")
    assert "1 of them do not allow the alteration" in run_effects(plan).result
    refused, unknown = plan.machines.get(machine=machines[0]).effect, plan.machines.exclude(machine=machines[0]).get()
    assert "fewer than two vaporizers" in refused.refusal and unknown.effect.unknown.startswith("No circuit")


def test_computed_again_it_replaces_what_is_planned_and_leaves_what_was_done(machines):
    plan = make_alteration(*machines)
    run_effects(plan)
    row = plan.machines.get(machine=machines[0])
    carry_out_alteration(row, done_on=TODAY, evidence="Order 7", by=make_person("technician"), at=LATER)
    run_effects(plan, at=LATER)
    run_effects(plan, at=LATER)
    row.refresh_from_db()
    assert row.effect is not None and plan.effects.count() == 1
    assert plan.machines.planned().get().effect.computed_at == LATER


def test_the_estimate_takes_the_price_of_the_model_then_that_of_the_plan_and_never_another_currency(machines):
    manager = make_person("manager")
    other = make_machine(area=make_area(make_site(name="South")), model=make_model())
    choose_currency(machines[0].site, "EUR", by=manager, at=NOON)
    choose_currency(other.site, "INR", by=manager, at=NOON)
    row = {"feature": "outlet-check-valve", "minutes": 90, "priced_on": TODAY}
    enter(AlterationPrice, manager, model=machines[0].model, price=Decimal(900), **row)
    own = {"price_each": Decimal(50000), "currency": "INR", "price_source": "Offer of March", "minutes_each": 30}
    plan = make_alteration(*machines, other, by=manager, **own)
    shown = ShownPlan(plan, manager, TODAY)
    # two machines of 900 EUR and 90 min each, one of 50000 INR and 30 min
    assert shown.estimate.money == {"EUR": Decimal(1800), "INR": Decimal(50000)}
    assert (shown.estimate.minutes, shown.estimate.unpriced) == (210, 0)


@pytest.mark.parametrize("group", ["auditor"])
def test_whoever_may_not_compute_covers_may_not_request_it(machines, client, group):
    plan = make_alteration(*machines)
    client.force_login(make_person(group))
    assert client.post(f"{plan.get_absolute_url()}compute/").status_code == 403
