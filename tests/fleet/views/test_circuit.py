"""The page, the paper and the file of a machine's gas circuit, and the circuit of a model."""

from datetime import date
from io import BytesIO

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse
from pypdf import PdfReader

from fleet import extensions
from fleet.actions import copy_circuits, fit_component, replace_component, undo_circuit_change
from fleet.circuit.files import read_circuit
from fleet.circuit.solution import NoSolution
from fleet.circuit.structure import Port
from fleet.extensions import Extension
from fleet.models import CircuitChange, Connection, MachineModel
from tests.factories import NOON, TODAY, make_component, make_machine, make_model, make_person, make_site
from tests.fleet.circuit_texts import SMALL

BETWEEN = [(Port("vaporizer", "out"), Port("outlet", "in"), "in", "out")]


@pytest.fixture
def machine(db):
    return make_machine(model=make_model(circuit=SMALL, features={"pin-index": "fitted"}))


@pytest.fixture
def auditor(client, db):
    person = make_person("auditor")
    client.force_login(person)
    return person


def url(machine, name="machine_circuit"):
    return reverse(f"fleet:{name}", args=[machine.pk])


def page_of(client, machine, **query):
    return client.get(url(machine), query).content.decode()


def line_of(response, code):
    return next(line for line in response.context["view"].lines if line.code == code)


def test_the_page_draws_the_circuit_in_ordinary_use_and_says_it_component_by_component(client, auditor, machine):
    response = client.get(url(machine))
    page = response.content.decode()
    assert "as its model was built" in page and "<svg" in page and 'role="img"' in page
    # Oxygen 2 L/min with nitrous oxide 4 L/min is ordinary use: common practice, no source
    assert line_of(response, "oxygen-control").flow == "2 L/min"
    assert all(f">{component.label} " in page for component in read_circuit(SMALL).components)


def test_a_picked_state_is_solved_and_says_what_is_shut_and_why(client, auditor, machine):
    response = client.get(url(machine), {"show": "state:oxygen-pipeline-off", "units": "psi"})
    valve = line_of(response, "cut-off-valve")
    # A cut-off valve shuts nitrous oxide off when oxygen pressure is gone: common practice, no source
    assert valve.flow == "0 L/min" and "25 psi" in valve.note and valve.is_urgent
    assert '<option value="state:oxygen-pipeline-off" selected>' in response.content.decode()


def test_a_single_fault_can_be_picked(client, auditor, machine):
    groups = client.get(url(machine)).context["form"].groups
    title, choices = next(group for group in groups if "components" in group[0])
    stuck = next(choice for choice in choices if "cut-off-valve" in choice.key)
    response = client.get(url(machine), {"show": stuck.key})
    assert response.context["view"].title == stuck.title and response.context["view"].solution.faults == stuck.faults


def test_a_state_that_is_not_there_is_refused(client, auditor, machine):
    response = client.get(url(machine), {"show": "state:nothing"})
    assert response.status_code == 400
    assert "“state:nothing” is not a state of this circuit" in response.content.decode()


def test_a_state_without_steady_flow_is_told_in_a_sentence_and_the_components_are_drawn(
    client, auditor, machine, monkeypatch
):
    def none(*args, **kwargs):
        raise NoSolution("no steady flow was found at the vaporizer. Look at its joints.")

    monkeypatch.setattr("fleet.circuits.state_view.solve", none)
    page = page_of(client, machine)
    assert "Ordinary use: no steady flow was found at the vaporizer" in page and "<svg" in page


def test_gases_have_the_colours_that_the_setting_names(client, auditor, machine, settings):
    """Oxygen is white by ISO 32 and green by the US convention (from memory), so the drawings differ."""
    iso = client.get(url(machine)).context["view"].svg()
    settings.GAS_COLOURS = "us"
    assert client.get(url(machine)).context["view"].svg() != iso


def test_another_state_is_swapped_in_without_the_rest_of_the_page(client, auditor, machine):
    response = client.get(url(machine), {"show": "state:ordinary"}, headers={"HX-Request": "true"})
    page = response.content.decode()
    assert "<html" not in page and "The same values as the drawing" in page and "HX-Request" in response.headers["Vary"]


def test_the_circuit_of_a_past_day_is_the_one_of_that_day(client, auditor, machine):
    fit_component(
        machine, kind="check-valve", label="Back valve", fitted_on=date(2020, 4, 1), between=BETWEEN, by=None, at=NOON
    )
    assert "Back valve" in page_of(client, machine)
    past = page_of(client, machine, on="2020-03-31")
    assert "Back valve" not in past.split('<h2 id="changes"')[0] and "The circuit as of 31 Mar 2020" in past


def test_a_day_that_is_none_is_refused(client, auditor, machine):
    response = client.get(url(machine), {"on": "soon"})
    assert response.status_code == 400 and "on: “soon” is not a valid date" in response.content.decode()


def test_problems_are_told_in_plain_words_and_the_components_are_drawn_all_the_same(client, auditor, machine):
    copy_circuits([machine], by=None, at=NOON)
    Connection.objects.filter(source__code="nitrous-oxide-inlet").update(removed_on=TODAY)
    page = page_of(client, machine)
    assert "Problems with the circuit" in page and "Pressures and flows are not computed" in page and "<svg" in page


def test_a_machine_without_any_circuit_says_what_to_do(client, auditor, db):
    assert "No circuit is recorded for this machine" in page_of(client, make_machine())
    listed = make_machine()
    make_component(listed, label="Lonely regulator")
    page = page_of(client, listed)
    assert "are not connected" in page and "Lonely regulator" in page


def test_a_model_circuit_that_cannot_be_read_is_told(client, auditor, db):
    page = page_of(client, make_machine(model=make_model(circuit="[[part]]\ncode = 'x'\nkind = 'gearbox'")))
    assert "Problems with the circuit" in page and "gearbox" in page


def test_changes_stay_readable_with_who_undid_them_and_why(client, auditor, machine):
    person = make_person("technician", last_name="Ferro")
    replace_component(machine, "vaporizer", on=TODAY, serial="77", evidence="Note 3", by=person, at=NOON)
    undo_circuit_change(CircuitChange.objects.get(verb="replaced"), reason="Other machine", by=person, at=NOON)
    page = page_of(client, machine)
    assert all(words in page for words in ("Vaporizer replaced by", "Note 3", "Other machine", "Ferro"))


def test_what_was_measured_is_told(client, auditor, machine, monkeypatch):
    told = {("cut-off-valve", "cut_pressure"): (150e3, "bench, 2026-03-01")}
    bench = Extension(app="bench", measured=lambda machines: {one.pk: told for one in machines})
    monkeypatch.setitem(extensions._extensions, bench.app, bench)
    page = page_of(client, machine)
    assert "Cut-off valve: Oxygen pressure at which it shuts 21.8 psi" in page  # 150 kPa
    assert "bench, 2026-03-01" in page


def test_only_those_who_may_fit_components_are_offered_changes(client, auditor, machine):
    offers = ["/replace/", "/remove/", "/components/fit/", "/circuit/join/"]
    assert not any(offer in page_of(client, machine) for offer in offers)
    client.force_login(make_person("technician"))
    assert all(offer in page_of(client, machine) for offer in offers)
    assert not any(offer in page_of(client, machine, on="2020-01-01") for offer in offers)


def test_the_page_asks_the_same_number_of_queries_for_many_components_and_changes(
    client, auditor, machine, django_assert_num_queries
):
    client.get(url(machine))
    counts = []
    for number in range(12):
        replace_component(machine, "vaporizer", on=TODAY, serial=str(number), by=auditor, at=NOON)
        if number in (1, 11):
            with django_assert_num_queries(12, exact=False) as captured:
                client.get(url(machine))
            counts.append(len(captured))
    assert counts[0] == counts[1]


def test_the_paper_shows_the_picked_state_with_the_same_words(client, auditor, machine):
    replace_component(machine, "vaporizer", on=TODAY, serial="77", evidence="Note 3", by=auditor, at=NOON)
    response = client.get(url(machine, "machine_circuit_pdf"), {"show": "state:oxygen-pipeline-off"})
    text = " ".join(page.extract_text() for page in PdfReader(BytesIO(response.content)).pages)
    assert response.headers["Content-Type"] == "application/pdf"
    assert all(words in text for words in (str(machine), "Cut-off valve", "Note 3", "Caution", "pipeline disconnected"))


def test_the_file_is_read_back_as_the_same_circuit(client, auditor, machine):
    text = client.get(url(machine, "machine_circuit_file")).content.decode()
    assert (read_circuit(text).components, read_circuit(text).connections) == (
        read_circuit(SMALL).components,
        read_circuit(SMALL).connections,
    )


def test_paper_and_file_of_a_machine_without_circuit_are_not_found(client, auditor, db):
    machine = make_machine()
    names = ("machine_circuit_pdf", "machine_circuit_file")
    assert {client.get(url(machine, name)).status_code for name in names} == {404}


@pytest.mark.parametrize("name", ["machine_circuit", "machine_circuit_pdf", "machine_circuit_file"])
def test_a_circuit_is_for_those_who_see_the_machine(client, machine, name):
    assert client.get(url(machine, name)).status_code in (302, 403)
    client.force_login(make_person("technician", sites=[make_site()]))
    assert client.get(url(machine, name)).status_code == 404
    client.force_login(make_person("technician"))
    assert client.get(url(machine, name)).status_code == 200
    assert client.post(url(machine, name)).status_code == 405


class TestModel:
    FORM = {
        "code": "two-gas", "manufacturer": "Test works", "name": "Two", "gases": ["oxygen", "nitrous-oxide"],
        "vaporizer_positions": "1",
    }  # fmt: skip

    @pytest.fixture
    def planner(self, client, db):
        client.force_login(make_person("planner"))

    def add(self, client, **more):
        return client.post(reverse("fleet:model_add"), self.FORM | more)

    def test_is_given_its_circuit_as_text_or_as_a_file(self, client, planner):
        self.add(client, circuit=SMALL.replace("\n", "\r\n"))
        self.add(client, code="other", name="Other", circuit_file=SimpleUploadedFile("c.toml", SMALL.encode()))
        assert [model.circuit.strip() for model in MachineModel.objects.all()] == [SMALL.strip()] * 2

    @pytest.mark.parametrize(
        ("given", "told"),
        [
            ({"circuit": "part = 3"}, "part must be tables"),
            ({"circuit": SMALL.replace('"vaporizer.out"', '"vaporizer.side"')}, "side"),
            ({"circuit_file": SimpleUploadedFile("c.toml", b"\xff\xfe")}, "Byte 0 of the file is not UTF-8"),
            ({"circuit_file": SimpleUploadedFile("c.toml", b"#" * 500_001)}, "500,000 at most"),
        ],
    )
    def test_with_a_circuit_that_cannot_be_is_told_and_not_kept(self, client, planner, given, told):
        assert told in self.add(client, **given).content.decode()
        assert not MachineModel.objects.exists()

    def test_shows_its_circuit_with_the_protections_that_it_had_when_new(self, client, auditor, machine):
        address = reverse("fleet:model_circuit", args=[machine.model_id])
        response = client.get(address)
        assert response.context["found"].circuit.fittings == {"pin-index"} and "<svg" in response.content.decode()
        assert "9 components, 8 connections" in client.get(machine.model.get_absolute_url()).content.decode()
        text = client.get(reverse("fleet:model_circuit_file", args=[machine.model_id])).content.decode()
        assert set(read_circuit(text).connections) == set(read_circuit(SMALL).connections)

    def test_without_a_circuit_says_so(self, client, auditor, db):
        model = make_model()
        assert (
            "No circuit is recorded for this model"
            in client.get(reverse("fleet:model_circuit", args=[model.pk])).content.decode()
        )
        assert client.get(reverse("fleet:model_circuit_file", args=[model.pk])).status_code == 404
