import pytest
from django.urls import reverse

from fleet.circuit.kit import CHOICES, MACHINE_KINDS
from fleet.circuits.machine_circuit import circuit_of_model
from fleet.models import MachineModel
from tests.factories import make_model, make_person

START = reverse("fleet:model_start")


@pytest.fixture
def planner(client, db):
    person = make_person("planner")
    client.force_login(person)
    return person


def sent(kind, **differs):
    choices = {code: MACHINE_KINDS[kind].choices.get(code, choice.default) for code, choice in CHOICES.items()}
    data = {"manufacturer": "Hallborne", "name": "Three"} | {
        f"kit-{code}": a for code, a in choices.items() if a != "no"
    }
    return data | differs


def test_the_first_page_offers_every_kind(client, planner):
    page = client.get(START).content.decode()
    assert all(kind.name in page for kind in MACHINE_KINDS.values())


@pytest.mark.parametrize("kind", MACHINE_KINDS)
def test_a_kind_is_saved_as_it_is_and_its_circuit_can_be_solved(client, planner, kind):
    page = client.post(f"{START}?kind={kind}", sent(kind), follow=True)
    model = MachineModel.objects.get()
    assert f"{model} is saved" in page.content.decode() and model.code == "hallborne-three"
    found = circuit_of_model(model)
    assert found.problems == () and found.can_be_solved


def test_looking_at_the_circuit_saves_nothing_and_marks_what_is_unwanted(client, planner):
    page = client.post(f"{START}?kind=three-gas", sent("three-gas", look="yes")).content.decode()
    assert "<svg" in page and "mark-unwanted" in page and not MachineModel.objects.exists()


def test_what_differs_is_in_the_circuit_and_in_the_features(client, planner):
    data = sent("three-gas", **{"kit-oxygen-alarm": "on", "kit-scavenging": "30", "feature-flush-guard": "fitted"})
    client.post(f"{START}?kind=three-gas", data)
    features = dict(MachineModel.objects.get().features.values_list("feature", "state"))
    assert features["o2-supply-alarm"] == "fitted" and features["scavenging-breathing-size"] == "not fitted"
    assert features["flush-guard"] == "fitted"


def test_a_name_that_is_taken_is_refused(client, planner):
    make_model(manufacturer="Hallborne", name="Three")
    page = client.post(f"{START}?kind=three-gas", sent("three-gas")).content.decode()
    assert "already exists" in page and MachineModel.objects.count() == 1


def test_a_feature_that_a_person_states_is_asked_once_only(client, planner):
    form = client.get(f"{START}?kind=three-gas").context["form"]
    asked = {field.name for field in form.features()}
    assert "feature-pin-index" in asked and "feature-ratio-protection" not in asked


def test_a_kind_that_does_not_exist_is_not_guessed(client, planner):
    assert client.get(START, {"kind": "steam"}).status_code in (200, 400, 404)


def test_other_groups_may_not(client, db):
    client.force_login(make_person("technician"))
    assert client.get(START).status_code == 403
