"""The gas circuit of a machine over the API."""

from datetime import date

import pytest

from fleet.actions import replace_component
from fleet.circuit.files import read_circuit
from tests.factories import NOON, make_machine, make_model, make_person, make_site
from tests.fleet.circuit_texts import SMALL


@pytest.fixture
def machine(db):
    return make_machine(model=make_model(circuit=SMALL, features={"pin-index": "fitted"}))


def test_a_machine_tells_its_circuit_in_si(call_as, machine):
    told = call_as("auditor").get(f"/machines/{machine.pk}/circuit").json()
    components = {component["code"]: component for component in told["parts"]}
    assert (told["basis"], told["is_own"], told["problems"]) == ("as its model was built", False, [])
    assert told["fittings"] == ["pin-index"] and len(told["digest"]) == 64
    # 50 psi = 344 738 Pa: NIST SP 811, appendix B.8
    assert components["oxygen-inlet"]["values"][0]["value"] == pytest.approx(344_738, abs=1)
    assert {(connection["source"], connection["target"]) for connection in told["joints"]} == {
        (str(connection.source), str(connection.target)) for connection in read_circuit(SMALL).connections
    }


def test_the_circuit_of_a_past_day_is_told(call_as, machine):
    replace_component(machine, "vaporizer", on=date(2020, 1, 1), kind="filter", options={}, by=None, at=NOON)
    caller = call_as("auditor")

    def kind_on(day):
        components = caller.get(f"/machines/{machine.pk}/circuit", on=day).json()["parts"]
        return next(component["kind"] for component in components if component["code"] == "vaporizer")

    assert [kind_on("2019-12-31"), kind_on("2020-01-01")] == ["vaporizer", "filter"]


def test_a_machine_without_circuit_answers_without_components(call_as, db):
    told = call_as("auditor").get(f"/machines/{make_machine().pk}/circuit").json()
    assert (told["parts"], told["joints"], told["digest"], told["ambient_pa_abs"]) == ([], [], "", None)


def test_a_circuit_of_another_site_is_not_found(call_as, machine):
    assert (
        call_as("auditor", owner=make_person("auditor", sites=[make_site()]))
        .get(f"/machines/{machine.pk}/circuit")
        .status_code
        == 404
    )


def test_a_circuit_costs_the_same_queries_for_many_changes(call_as, machine, django_assert_num_queries):
    caller, counts = call_as("auditor"), []
    caller.get(f"/machines/{machine.pk}/circuit")
    for number in range(6):
        replace_component(machine, "vaporizer", on=date(2020, 1, 1 + number), by=make_person(), at=NOON)
        if number in (0, 5):
            with django_assert_num_queries(12, exact=False) as captured:
                caller.get(f"/machines/{machine.pk}/circuit")
            counts.append(len(captured))
    assert counts[0] == counts[1]
