"""The pages that change a circuit: what they offer, store and refuse, and to whom."""

import pytest
from django.urls import reverse

from fleet.actions import replace_component
from fleet.models import CircuitChange, Component, Connection
from tests.factories import NOON, TODAY, make_component, make_machine, make_model, make_person, make_site
from tests.fleet.circuit_texts import SMALL

CHANGE = {"on": "2026-05-01", "evidence": "Work order 12"}
COMPONENT = {"label": "Outlet check valve", "fitted_on": "2026-05-01", "evidence": "Work order 12"}
OUTLET = "vaporizer.out>outlet.in"


@pytest.fixture
def machine(db):
    return make_machine(model=make_model(circuit=SMALL))


@pytest.fixture
def technician(client, db):
    person = make_person("technician")
    client.force_login(person)
    return person


def url(name, machine, *args):
    return reverse(f"fleet:{name}", args=[machine.pk, *args])


def test_a_component_is_put_into_a_connection_with_date_and_evidence(client, technician, machine):
    address = url("component_fit", machine) + f"?kind=check-valve&between={OUTLET}"
    page = client.get(address).content.decode()
    assert "Vaporizer (out) to Outlet (in), 22 mm" in page and "Where it goes" in page
    response = client.post(address, COMPONENT | {"between_in": OUTLET})
    assert response.headers["Location"] == url("machine_circuit", machine)
    change = CircuitChange.objects.get(verb="inserted")
    assert (change.evidence, change.by) == ("Work order 12", technician)
    assert Connection.objects.filter(removed_on=None, source__code="vaporizer", target__code="outlet-check-valve").exists()


def test_a_component_is_joined_at_a_connection_of_its_own(client, technician, machine):
    data = {
        "label": "Alarm",
        "gas": "oxygen",
        "fitted_on": "2026-05-01",
        "evidence": "x",
        "join_in": "oxygen-inlet.out",
    }
    client.post(url("component_fit", machine) + "?kind=oxygen-alarm", data)
    assert Connection.objects.filter(source__code="oxygen-inlet", target__code="alarm").exists()


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"evidence": ""}, "This field is required"),
        ({"between_in": OUTLET, "join_in": "outlet.in"}, "Leave this open"),
        ({"between_in": "outlet.in>nowhere.out"}, "is not one of the available choices"),
        ({"fitted_on": "2010-01-01", "between_in": OUTLET}, "the register covers for machine"),
        ({"label": "Outlet", "between_in": OUTLET}, "has a component called"),
    ],
)
def test_a_component_that_cannot_be_put_in_is_told_and_nothing_is_kept(client, technician, machine, changed, told):
    page = client.post(url("component_fit", machine) + "?kind=check-valve", COMPONENT | changed).content.decode()
    assert told in page and (COMPONENT | changed)["fitted_on"] in page
    assert not Component.objects.exists() and not CircuitChange.objects.exists()


def test_a_component_is_replaced_and_the_form_starts_from_the_old_one(client, technician, machine):
    address = url("component_replace", machine, "cut-off-valve")
    page = client.get(address).content.decode()
    assert 'value="25"' in page and "Cut-off valve" in page
    data = {"label": "Cut-off valve", "gas": "nitrous-oxide", "serial": "9", "fitted_on": "2026-05-01", "evidence": "x"}
    values = {"rated_cut_pressure_0": "172", "rated_cut_pressure_1": "kPa", "option_type": "shut-off"}
    assert client.post(address, data | values).status_code == 302
    new = Component.objects.get(code="cut-off-valve", removed_on=None)
    assert (new.serial, new.rated, new.options) == ("9", {"cut_pressure": [172.0, "kPa"]}, {"type": "shut-off"})


@pytest.mark.parametrize(("bridge", "joined"), [("yes", True), ("no", False)])
def test_a_component_is_removed_and_its_neighbours_joined_or_left_open(client, technician, machine, bridge, joined):
    address = url("component_take_out", machine, "vaporizer")
    assert "its neighbours" in client.get(address).content.decode().lower()
    assert client.post(address, CHANGE | {"bridge": bridge}).status_code == 302
    connections = Connection.objects.filter(removed_on=None, source__code="flow-bank", target__code="outlet")
    assert connections.exists() is joined


def test_connections_are_taken_apart_and_made(client, technician, machine):
    address = url("circuit_disconnect", machine) + f"?connection={OUTLET}"
    assert f'value="{OUTLET.replace(">", "&gt;")}" selected' in client.get(address).content.decode()
    client.post(address, CHANGE | {"connection": OUTLET})
    assert not Connection.objects.filter(removed_on=None, target__code="outlet").exists()
    data = CHANGE | {"source": "vaporizer.out", "target": "outlet.in", "size": "22 mm"}
    client.post(url("circuit_join", machine), data)
    assert Connection.objects.get(removed_on=None, target__code="outlet").size == "22 mm"


def test_a_connection_of_a_component_to_itself_is_told(client, technician, machine):
    data = CHANGE | {"source": "vaporizer.out", "target": "vaporizer.in"}
    assert "Choose two components" in client.post(url("circuit_join", machine), data).content.decode()


def test_components_of_a_list_can_be_joined(client, technician, db):
    machine = make_machine()
    for label in ("First", "Second"):
        make_component(machine, kind="filter", label=label, code=label.lower(), gas="oxygen")
    client.post(url("circuit_join", machine), CHANGE | {"source": "first.out", "target": "second.in"})
    assert Connection.objects.filter(source__label="First", target__label="Second").exists()


def test_a_change_is_undone_with_a_reason_and_stays_readable(client, technician, machine):
    replace_component(machine, "vaporizer", on=TODAY, serial="77", by=None, at=NOON)
    change = CircuitChange.objects.get(verb="replaced")
    address = reverse("fleet:circuit_undo", args=[change.pk])
    assert "as if it had never been entered" in client.get(address).content.decode()
    assert "This field is required" in client.post(address, {"reason": ""}).content.decode()
    client.post(address, {"reason": "Another machine"})
    change.refresh_from_db()
    assert (change.undone_by, change.undone_reason) == (technician, "Another machine")
    history = client.get(reverse("fleet:machine_history", args=[machine.pk])).content.decode()
    assert "Vaporizer replaced by Vaporizer (serial 77)" in history and "Another machine" in history


def test_what_somebody_else_changed_meanwhile_is_told_and_what_was_typed_stays(client, technician, machine):
    address = url("component_take_out", machine, "vaporizer")
    seen = client.get(address).context["form"].initial["seen"]
    replace_component(machine, "vaporizer", on=TODAY, by=make_person("technician", last_name="Bold"), at=NOON)
    data = {"on": TODAY.isoformat(), "evidence": "Mine", "bridge": "yes", "seen": seen}
    page = client.post(address, data).content.decode()
    assert "was changed after this page was opened" in page and "Bold" in page and "Mine" in page
    assert Component.objects.filter(code="vaporizer", removed_on=None).exists()


def test_changes_are_for_those_who_may_fit_components(client, machine):
    replace_component(machine, "vaporizer", on=TODAY, by=None, at=NOON)
    undo = reverse("fleet:circuit_undo", args=[CircuitChange.objects.get(verb="replaced").pk])
    names = [
        ("component_replace", "outlet"),
        ("component_take_out", "outlet"),
        ("circuit_join",),
        ("circuit_disconnect",),
    ]
    addresses = [*(url(name, machine, *more) for name, *more in names), undo]
    client.force_login(make_person("auditor"))
    assert {client.post(address, {}).status_code for address in addresses} == {403}
    client.force_login(make_person("technician", sites=[make_site()]))
    assert {client.post(address, {}).status_code for address in addresses} == {404}
    client.force_login(make_person("technician"))
    assert {client.put(address).status_code for address in addresses} == {405}
    assert client.get(url("component_replace", machine, "nothing")).status_code == 404
