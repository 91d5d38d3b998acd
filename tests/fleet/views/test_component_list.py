"""The list of components: what a search finds, and what is left out while an import is under way."""

import pytest
from django.urls import reverse

from fleet.acting.scope import outside_actions
from fleet.models import Machine
from tests.factories import make_component, make_machine, make_person

URL = reverse("fleet:component_list")


@pytest.fixture
def components(db, client):
    client.force_login(make_person("planner"))
    machine = make_machine()
    return [make_component(machine, label=f"Valve {n}", serial=f"X{n}", lot="L-77") for n in range(4)]


def labels(response):
    return [row.record.label for row in response.context["table"].page.object_list]


def test_a_search_finds_serial_and_lot(client, components):
    assert labels(client.get(URL, {"q": "x2"})) == ["Valve 2"]
    assert labels(client.get(URL, {"q": "L-77", "sort": "-label"})) == ["Valve 3", "Valve 2", "Valve 1", "Valve 0"]
    assert labels(client.get(URL, {"q": "none"})) == []


def test_a_search_that_finds_many_lists_the_first_of_them_and_says_so(client, components, monkeypatch):
    for module in ("fleet.models.querysets.scoped", "fleet.views.component_list"):
        monkeypatch.setattr(f"{module}.FEW", 3)
    page = client.get(URL, {"q": "L-77", "sort": "label"})
    assert labels(page) == ["Valve 0", "Valve 1", "Valve 2"]
    assert "the first 3 are listed" in page.content.decode()
    narrowed = client.get(URL, {"q": "L-77", "site": components[0].machine.area.site_id, "sort": "label"})
    assert len(labels(narrowed)) == 4 and "are listed" not in narrowed.content.decode()


def test_components_of_a_machine_that_is_still_entered_are_left_out(client, components):
    other = make_component(make_machine(), label="Regulator")
    assert len(labels(client.get(URL))) == 5
    with outside_actions():
        Machine.with_staged.filter(pk=components[0].machine_id).update(staged="2026-11-02T12:00:00", status="entering")
    assert labels(client.get(URL)) == [other.label]
