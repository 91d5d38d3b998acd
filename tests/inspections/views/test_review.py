"""What a machine's computed circuit leaves open stands on its review, with how it enters the hazard weight."""

import pytest
from django.urls import reverse

from tests.factories import make_circuit_cover, make_machine, make_person


@pytest.fixture
def manager(client, db):
    person = make_person("manager")
    client.force_login(person)
    return person


def page(client, machine):
    response = client.get(reverse("inspections:review_machine", args=[machine.pk]))
    assert response.status_code == 200
    return response


def test_each_hazard_opens_into_its_rows_and_says_how_it_counts(client, manager):
    machine = make_machine(features={"ratio-protection": "not fitted"})  # meets A1
    opened = {"hypoxic-mixture": (4, 2, 1), "barotrauma": (2, 1, 1), "wrong-gas": (3, 0), "theatre-pollution": (5, 5)}
    make_circuit_cover(machine, open=opened)
    response = page(client, machine)
    lines = {each.hazard.code: each for each in response.context["exposure"]}
    assert {code: each.counts for code, each in lines.items()} == {
        "hypoxic-mixture": "counted once, with A1",
        "barotrauma": "adds 8",
        "wrong-gas": "adds nothing: its causes are rare",
        "theatre-pollution": "adds nothing: no missing safety feature closes it",
    }
    assert lines["barotrauma"].url == f"/machines/{machine.pk}/cover/?hazard=barotrauma&status=open"
    assert response.context["weight"] == 18, "the weights of the catalogue: hypoxic mixture 10, barotrauma 8"
    assert "A cause of barotrauma" in response.content.decode()


def test_a_machine_without_a_computed_circuit_says_that_its_criteria_alone_count(client, manager):
    assert "Its gas circuit has not been computed" in page(client, make_machine()).content.decode()


def test_a_circuit_that_leaves_nothing_open_says_so(client, manager):
    machine = make_machine()
    make_circuit_cover(machine, open={"barotrauma": (0, 0)})
    assert "no analysed single cause is left open" in page(client, machine).content.decode()
