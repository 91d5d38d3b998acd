from datetime import date, timedelta

import pytest

from fleet.actions import record_feature_state
from fleet.catalogue import FEATURES
from fleet.models import State
from inspections.actions import open_inspection, plan_retest
from inspections.at_bench.applicable_steps import build_steps
from inspections.at_bench.procedure_files import read_procedures
from inspections.at_bench.step_content import features_of
from inspections.models import Finding, Procedure
from tests.factories import (
    NOON,
    TODAY,
    load_all_procedures,
    make_component,
    make_inspection,
    make_machine,
    make_model,
    make_procedure,
)
from tests.inspections.scenes import FAILING

STEPS = """
code = "yearly"
title = "Steps"
[[step]]
code = "exclusion"
title = "Vaporizer exclusion"
test = "observation"
feature = "vaporizer-exclusion"
item = "No two turn on."
[[step]]
code = "regulator"
title = "Cylinder regulator"
test = "regulator"
component = "pressure-regulator"
[[step]]
code = "cut"
title = "Cut"
test = "supply-failure"
each = "other gas"
[[step]]
code = "mixture"
title = "Mixture"
test = "oxygen-mixture"
gas = "nitrous-oxide"
"""


@pytest.fixture
def steps_of(db, tmp_path):
    """steps_of(machine): the rows that the procedure above lays out for it."""
    procedure = make_procedure(STEPS, directory=tmp_path)

    def steps_of(machine, on=TODAY):
        return build_steps(make_inspection(machine, procedure), on=on).rows

    return steps_of


def by_code(rows, code):
    return [row for row in rows if row.code == code]


def test_a_feature_not_fitted_keeps_its_step_with_the_absence_and_evidence(steps_of):
    machine = make_machine(features={"vaporizer-exclusion": State.NOT_FITTED})
    [row] = by_code(steps_of(machine), "exclusion")
    assert not row.applies
    assert row.absence.startswith("Vaporizer exclusion")
    assert "not fitted, since 1 Jan 2015 (" in row.absence


@pytest.mark.parametrize(
    "features", [{"vaporizer-exclusion": State.FITTED}, {"vaporizer-exclusion": State.NOT_KNOWN}, {}]
)
def test_a_feature_fitted_or_not_known_is_tested(steps_of, features):
    [row] = by_code(steps_of(make_machine(features=features)), "exclusion")
    assert row.applies


def test_the_feature_state_of_the_day_decides(steps_of):
    machine = make_machine(features={"vaporizer-exclusion": State.NOT_FITTED})
    fitted_on = TODAY - timedelta(days=10)
    record_feature_state(
        machine, "vaporizer-exclusion", State.FITTED, from_date=fitted_on, evidence="retrofit", by=None, at=NOON
    )
    assert by_code(steps_of(machine), "exclusion")[0].applies
    assert not by_code(steps_of(machine, on=fitted_on - timedelta(days=1)), "exclusion")[0].applies


def test_there_is_one_step_for_each_component_in_place(steps_of):
    machine = make_machine()
    make_component(machine, label="Yoke 1")
    make_component(machine, label="Yoke 2")
    make_component(machine, label="Old one", removed_on=date(2020, 1, 1))
    make_component(machine, label="A valve", kind="check-valve")
    assert [row.subject for row in by_code(steps_of(machine), "regulator")] == ["Yoke 1", "Yoke 2"]


def test_no_component_of_the_kind_among_those_recorded_is_itself_recorded(steps_of):
    machine = make_machine()
    make_component(machine, kind="gauge")
    [row] = by_code(steps_of(machine), "regulator")
    assert (row.applies, row.absence) == (False, "No pressure regulator is recorded on this machine.")


def test_where_nobody_recorded_what_the_machine_is_made_of_the_step_applies_once(steps_of):
    [row] = by_code(steps_of(make_machine()), "regulator")
    assert (row.applies, row.subject, row.component) == (True, "", None)


def test_each_gas_but_oxygen_has_a_step(steps_of):
    rows = by_code(steps_of(make_machine()), "cut")
    assert [(row.subject, str(row)) for row in rows] == [
        ("nitrous-oxide", "Cut: nitrous oxide"),
        ("air", "Cut: air"),
    ]


OF_CONTROLS = """
code = "yearly"
title = "Steps"
[[step]]
code = "basal"
title = "Basal"
test = "basal-flow"
component = "flow-control"
gas = "oxygen"
rated = "basal_flow"
[[step]]
code = "tube"
title = "Tube"
test = "flowmeter"
component = "flowmeter"
from_record = { tube_gas = "gas" }
"""


def test_a_step_of_a_rated_value_is_done_where_a_component_of_its_gas_states_it(db, tmp_path):
    machine, procedure = make_machine(), make_procedure(OF_CONTROLS, directory=tmp_path)
    make_component(machine, kind="flow-control", label="Air control", gas="air", rated={"basal_flow": [1, "L/min"]})
    inspection = make_inspection(machine, procedure)
    assert by_code(build_steps(inspection, on=TODAY).rows, "basal")[0].absence == (
        "No flow control of oxygen is recorded on this machine."
    )
    control = make_component(machine, kind="flow-control", label="Oxygen control", gas="oxygen", rated={})
    assert by_code(build_steps(inspection, on=TODAY).rows, "basal")[0].absence == (
        "No flow control of this machine is recorded with a basal flow."
    )
    type(control).objects.filter(pk=control.pk).update(rated={"basal_flow": [150, "mL/min"]})
    rows = by_code(build_steps(inspection, on=TODAY).rows, "basal")
    assert [(row.subject, row.applies) for row in rows] == [("Oxygen control", True)]


def test_a_choice_that_the_record_of_the_component_answers_is_not_asked(db, tmp_path):
    machine, procedure = make_machine(), make_procedure(OF_CONTROLS, directory=tmp_path)
    for gas in ("oxygen", "nitrous-oxide", "xenon"):
        make_component(machine, kind="flowmeter", label=f"Tube of {gas}", gas=gas)
    rows = by_code(build_steps(make_inspection(machine, procedure), on=TODAY).rows, "tube")
    fixed = {row.component.gas: row.content.get("choices") for row in rows}
    tube_gas = {gas: {"tube_gas": gas} for gas in ("oxygen", "nitrous-oxide")}
    assert fixed == {**tube_gas, "xenon": None}


def test_a_machine_of_oxygen_only_has_no_other_gas_to_cut(steps_of):
    rows = steps_of(make_machine(model=make_model(gases=["oxygen"])))
    assert by_code(rows, "cut")[0].absence == "The machine gives oxygen only."
    assert by_code(rows, "mixture")[0].absence == "The machine does not give nitrous oxide."


def test_gases_that_nobody_recorded_are_taken_as_oxygen_and_nitrous_oxide(steps_of):
    rows = steps_of(make_machine(model=make_model(gases=[])))
    assert [row.subject for row in by_code(rows, "cut")] == ["nitrous-oxide"]
    assert by_code(rows, "mixture")[0].applies


SHIPPED = [step for content in read_procedures() for step in content["step"] if features_of(step)]
EITHER = sorted({tuple(features_of(step)) for step in SHIPPED})
NEEDY = sorted({code for features in EITHER for code in features if FEATURES[code].needs})


def rows_of_all_procedures(machine):
    load_all_procedures()
    procedures = Procedure.objects.all()
    return [row for one in procedures for row in build_steps(make_inspection(machine, one), on=TODAY).rows]


def applying(rows, features):
    """Whether the rows of the steps of these safety features apply: all, none, or some."""
    return {row.applies for row in rows if tuple(features_of(row.content)) == tuple(features)}


@pytest.mark.parametrize("state", [State.FITTED, State.NOT_KNOWN, None])
def test_every_shipped_step_applies_where_its_safety_feature_is_fitted_or_not_known(db, state):
    codes = {code for features in EITHER for code in features}
    machine = make_machine(features={code: state for code in codes} if state else {})
    rows = rows_of_all_procedures(machine)
    assert {features: applying(rows, features) for features in EITHER} == {features: {True} for features in EITHER}


def test_no_shipped_step_applies_where_all_its_safety_features_are_not_fitted(db):
    codes = {code for features in EITHER for code in features}
    rows = rows_of_all_procedures(make_machine(features=dict.fromkeys(codes, State.NOT_FITTED)))
    assert {features: applying(rows, features) for features in EITHER} == {features: {False} for features in EITHER}
    assert all(row.absence for row in rows if not row.applies)


@pytest.mark.parametrize("other", [State.FITTED, State.NOT_KNOWN])
def test_a_step_of_either_of_two_safety_features_applies_for_the_other(db, other):
    rows = rows_of_all_procedures(
        make_machine(features={"ratio-protection": State.NOT_FITTED, "electronic-mixing": other})
    )
    assert applying(rows, ["ratio-protection", "electronic-mixing"]) == {True}


LACKS = ["pipeline", "yokes", "ventilator", "scavenging", "mains-power"]


@pytest.mark.parametrize("lacking", LACKS)
def test_a_machine_that_lacks_what_a_safety_feature_needs_has_no_step_for_it_unless_it_is_recorded_as_fitted(
    db, lacking
):
    needing = {code for code in NEEDY if lacking in FEATURES[code].needs and (code,) in EITHER}
    assert needing
    unknown = rows_of_all_procedures(make_machine(model=make_model(lacks=[lacking])))
    fitted = rows_of_all_procedures(
        make_machine(model=make_model(lacks=[lacking], features=dict.fromkeys(needing, State.FITTED)))
    )
    for code in needing:
        assert applying(unknown, [code]) == {False}
        assert applying(fitted, [code]) == {True}
    others = [features for features in EITHER if not any(lacking in FEATURES[code].needs for code in features)]
    assert all(applying(unknown, features) == {True} for features in others)


def test_positions_count_up_and_every_step_of_the_procedure_is_there(steps_of):
    rows = steps_of(make_machine())
    assert [row.position for row in rows] == list(range(1, len(rows) + 1))
    assert {row.code for row in rows} == {"exclusion", "regulator", "cut", "mixture"}


def test_a_retest_brings_the_failed_step_that_its_procedure_lacks(scene):
    load_all_procedures()
    scene.complete(FAILING, alarm="no")
    scene.sign()
    retest = plan_retest(scene.machine, Finding.objects.all(), due_on=TODAY, by=None, at=NOON)
    open_inspection(retest, by=scene.technician, at=NOON)
    wanted = {(f.result.step.test_code, f.result.step.subject) for f in Finding.objects.all()}
    assert wanted <= {(step.test_code, step.subject) for step in retest.steps.that_apply()}


def test_the_shipped_procedures_lay_out_steps_for_a_machine(db):
    rows = build_steps(make_inspection(make_machine()), on=TODAY).rows
    assert all(row.test_code and (row.applies or row.absence) for row in rows)
    assert len({(row.code, row.subject) for row in rows}) == len(rows)
