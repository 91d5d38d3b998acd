"""Which single failures of a circuit a procedure finds, by what its steps say that they find."""

from copy import deepcopy

import pytest
from hypothesis import given
from hypothesis.strategies import sampled_from, sets

from config.demo.machine_circuits import CIRCUITS, circuit_text
from fleet.circuit.elements import element_for
from fleet.circuit.elements.base import Condition
from fleet.circuits.machine_circuit import read_and_check
from fleet.models import State
from inspections.at_bench.failure_coverage import coverage_of_models, failure_coverage, says_what_it_finds
from inspections.at_bench.procedure_files import read_procedures
from inspections.at_bench.step_rows import machine_on_day
from inspections.models import Procedure
from tests.factories import TODAY, load_all_procedures, make_machine, make_model, make_person

SHIPPED = {content["code"]: content for content in read_procedures()}
MODELS = sorted(path.stem for path in CIRCUITS.glob("*.toml"))


def circuit(model):
    return read_and_check(circuit_text(model), model)[0]


def one_step(**fields):
    return {"step": [{"code": "one", "title": "One", "test": "observation", **fields}]}


def found_on(model, **fields):
    return {str(failure) for failure in failure_coverage(one_step(**fields), circuit(model)).found}


def test_a_failure_of_one_place_or_gas_is_found_there_alone():
    assert found_on("castrine-2", finds=["check-valve: leaking (oxygen, yoke)"]) == {
        "Oxygen yoke check valve 1: leaking", "Oxygen yoke check valve 2: leaking",
    }  # fmt: skip
    assert len(found_on("castrine-2", finds=["check-valve: leaking"])) == 6


def test_a_step_of_one_gas_finds_failures_of_that_gas_and_of_what_carries_none():
    finds = ["flow-control: stuck shut", "ratio-protection: stuck open"]
    assert found_on("castrine-2", gas="oxygen", finds=finds) == {
        "Oxygen flow control: stuck shut", "Ratio controller: stuck open",
    }  # fmt: skip
    assert found_on("castrine-2", each="other gas", finds=finds[:1]) == {
        "Nitrous oxide flow control: stuck shut", "Air flow control: stuck shut",
    }  # fmt: skip


def test_a_step_of_each_component_finds_failures_of_these_and_of_others_of_their_gas():
    finds = ["flow-control: passing", "flowmeter: blocked"]
    assert found_on("castrine-2", component="flow-control", rated="basal_flow", finds=finds) == {
        "Oxygen flow control: passing", "Oxygen flowmeter: blocked",
    }  # fmt: skip


def test_a_step_that_does_not_apply_finds_nothing():
    assert found_on("norrfell-3", feature="outlet-retention", finds=["outlet: blocked"]) == set()
    assert found_on("norrfell-3", needs=["mains-power"], finds=["outlet: blocked"]) == set()
    assert found_on("norrfell-3", finds=["outlet: blocked"]) == {"Common gas outlet: blocked"}


@pytest.mark.parametrize("model", MODELS)
@pytest.mark.parametrize("procedure", SHIPPED)
def test_every_failure_of_every_component_is_counted_once_as_found_or_not(procedure, model):
    drawn = circuit(model)
    coverage = failure_coverage(SHIPPED[procedure], drawn)
    counted = sorted((one.component, one.mode) for one in (*coverage.found, *coverage.missed))
    modes = ((one.code, mode) for one in drawn.components for mode in element_for(one, Condition()).failures)
    assert counted == sorted(modes) and 0 < coverage.share < 1
    assert {one for failures in coverage.by_step.values() for one in failures} == set(coverage.found)


@given(left_out=sets(sampled_from(range(len(SHIPPED["yearly"]["step"])))), model=sampled_from(MODELS))
def test_a_procedure_finds_no_more_with_steps_left_out(left_out, model):
    shorter = deepcopy(SHIPPED["yearly"])
    shorter["step"] = [step for number, step in enumerate(shorter["step"]) if number not in left_out]
    drawn = circuit(model)
    found, of_all = ({str(one) for one in failure_coverage(c, drawn).found} for c in (shorter, SHIPPED["yearly"]))
    assert found <= of_all


@pytest.mark.parametrize("model", MODELS)
def test_acceptance_finds_what_the_yearly_finds_and_the_yearly_more_than_the_shorter_ones(model):
    found = {code: {str(one) for one in failure_coverage(SHIPPED[code], circuit(model)).found} for code in SHIPPED}
    assert found["yearly"] <= found["acceptance"]
    assert found["half-yearly"] < found["yearly"]
    assert all(len(found[code]) < len(found["yearly"]) for code in ("weekly", "daily", "return-to-service"))


def test_what_the_register_says_of_a_machine_decides_over_its_circuit(db):
    text = circuit_text("castrine-2")
    machine = make_machine(model=make_model(circuit=text, features={"outlet-retention": State.NOT_FITTED}))
    of_machine = failure_coverage(SHIPPED["yearly"], circuit("castrine-2"), machine_on_day(machine, TODAY))
    assert "Outlet retention: broken" in {str(one) for one in of_machine.missed}
    assert "Outlet retention: broken" in {
        str(one) for one in failure_coverage(SHIPPED["yearly"], circuit("castrine-2")).found
    }


def test_the_page_shows_the_figures_of_each_model_of_the_register(client, db, django_assert_num_queries):
    load_all_procedures()
    make_model(circuit=circuit_text("norrfell-3"), manufacturer="Ansel", name="Seven")
    content = Procedure.objects.get(code="yearly").current_version().content
    with django_assert_num_queries(2):
        [coverage] = coverage_of_models(content)
    client.force_login(make_person("auditor"))
    page = client.get(Procedure.objects.get(code="yearly").get_absolute_url()).content.decode()
    assert coverage.title == "Ansel Seven" and "Ansel Seven: which step finds what" in page
    assert f'<td class="num">{coverage.percent} %</td>' in page
    assert "; ".join(map(str, coverage.missed)) in page


def test_a_version_that_says_nothing_of_what_it_finds_has_no_figures():
    assert not says_what_it_finds(one_step()) and not says_what_it_finds(one_step(finds=[]))
    assert says_what_it_finds(one_step(finds=["gauge: stuck"]))
