from datetime import date

import pytest

from fleet.actions import correct_machine, fit_component, record_feature_state, register_machine
from fleet.errors import RegisterRefused
from fleet.models import Component, StatusChange, FeatureState
from tests.factories import NOON, make_area, make_component, make_machine, make_model, make_person

FIRST = date(2015, 1, 1)


def held(machine):
    return dict(FeatureState.objects.filter(machine=machine, until_date=None).values_list("feature", "state"))


def test_a_new_machine_starts_with_what_its_model_had_when_new(db):
    model = make_model(features={"ratio-protection": "fitted", "control-guard": "not fitted"})
    person = make_person("planner")
    machine = register_machine(by=person, at=NOON, asset_number="A-1", model=model, area=make_area(), in_use_from=FIRST)
    assert held(machine) == {"ratio-protection": "fitted", "control-guard": "not fitted"}
    assert set(FeatureState.objects.values_list("evidence", "from_date")) == {("model default", FIRST)}
    assert list(StatusChange.objects.values_list("status", "changed_on", "by")) == [("in service", FIRST, person.pk)]


def test_correcting_the_model_restates_only_what_rests_on_the_model(db):
    machine = make_machine(features={"ratio-protection": "fitted", "control-guard": "fitted", "o2-analyser": "fitted"})
    record_feature_state(
        machine, "o2-analyser", "not fitted", from_date=date(2020, 1, 1), evidence="seen", by=None, at=NOON
    )
    other = make_model(features={"ratio-protection": "not fitted", "o2-analyser": "fitted"})
    correct_machine(machine, by=None, at=NOON, model=other)
    assert held(machine) == {
        "ratio-protection": "not fitted",
        "control-guard": "not known",
        "o2-analyser": "not fitted",
    }
    on_first_day = FeatureState.objects.on(FIRST).filter(machine=machine, feature="ratio-protection")
    assert [row.state for row in on_first_day] == ["not fitted"]


def test_a_new_first_day_moves_what_began_on_the_old_one(db):
    machine = make_machine(features={"ratio-protection": "fitted"})
    make_component(machine)
    correct_machine(machine, by=None, at=NOON, in_use_from=date(2014, 6, 1))
    machine.refresh_from_db()
    moved = date(2014, 6, 1)
    assert machine.in_use_from == moved
    assert FeatureState.objects.get().from_date == moved
    assert Component.objects.get().fitted_on == moved
    assert StatusChange.objects.get().changed_on == moved


def test_a_first_day_that_would_cut_off_history_is_refused(db):
    machine = make_machine()
    fit_component(machine, kind="apl-valve", label="APL", fitted_on=date(2016, 1, 1), by=None, at=NOON)
    with pytest.raises(RegisterRefused, match="not later than the history"):
        correct_machine(machine, by=None, at=NOON, in_use_from=date(2017, 1, 1))
    machine.refresh_from_db()
    assert machine.in_use_from == FIRST


def test_status_cannot_be_changed_as_a_correction(db):
    with pytest.raises(RegisterRefused, match="status cannot be corrected"):
        correct_machine(make_machine(), by=None, at=NOON, status="retired")
