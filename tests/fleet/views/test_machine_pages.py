from datetime import date, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from fleet.actions import fit_component, record_feature_state, remove_component, retire_machine, withdraw_machine
from fleet.machine_page.tabs import machine_pages
from fleet.models import Component, FeatureState
from tests.factories import NOON, make_component, make_machine, make_person, make_site

MONTHS_AGO = date(2026, 5, 1)
TABS = ("features", "components", "history", "circuit", "cover")


@pytest.fixture
def machine(db):
    return make_machine(
        asset_number="A-1",
        serial="S 100",
        features={"o2-supply-alarm": "not fitted", "ratio-protection": "fitted", "measured-flow-vaporizer": "fitted"},
    )


def page_of(client, machine, group="planner", **query):
    client.force_login(make_person(group))
    response = client.get(machine.get_absolute_url(), query)
    assert response.status_code == 200
    return response


def tab_of(client, machine, tab, group="planner", **query):
    client.force_login(make_person(group))
    response = client.get(reverse(f"fleet:machine_{tab}", args=[machine.pk]), query)
    assert response.status_code == 200
    return response


def line(response, code):
    return next(line for group in response.context["groups"] for line in group.lines if line.feature.code == code)


def test_the_page_tells_identity_gaps_components_and_history(client, machine):
    make_component(machine, label="O2 regulator", gas="oxygen", rated={"output_pressure": [45, "psi"]})
    page = page_of(client, machine).content.decode()
    for told in ("A-1", "S 100", machine.model.name, "In service", "Entered in the register"):
        assert told in page
    assert '<b class="alarm">Not fitted:</b> Oxygen supply-pressure alarm' in page
    components = tab_of(client, machine, "components").content.decode()
    assert "O2 regulator" in components and "Set output pressure 45 psi gauge" in components


def test_missing_essential_protections_stand_first(client, machine):
    essential = tab_of(client, machine, "features").context["groups"][0]
    assert essential.lines[0].feature.code == "o2-supply-alarm"
    assert essential.lines[0].is_gap


def test_an_unwanted_thing_that_is_there_is_a_gap(client, machine):
    assert line(tab_of(client, machine, "features"), "measured-flow-vaporizer").is_gap


def test_a_protection_that_does_not_matter_says_why(client, db):
    machine = make_machine()
    machine.model.gases = ["oxygen", "air"]
    machine.model.save()
    page = tab_of(client, machine, "features").content.decode()
    assert "does not apply: it delivers no nitrous oxide" in page


def test_the_page_of_a_past_date_shows_the_register_as_it_was(client, machine):
    make_component(machine, label="Old valve", removed_on=MONTHS_AGO)
    record_feature_state(
        machine, "o2-supply-alarm", "fitted", from_date=MONTHS_AGO, evidence="retrofit", by=None, at=NOON
    )
    now = tab_of(client, machine, "features")
    assert not line(now, "o2-supply-alarm").is_gap
    assert "Old valve</td>" not in tab_of(client, machine, "components").content.decode()
    before = {"on": str(MONTHS_AGO - timedelta(days=1))}
    then = tab_of(client, machine, "features", **before)
    assert line(then, "o2-supply-alarm").is_gap and "The register as of 30 Apr 2026" in then.content.decode()
    assert reverse("fleet:feature_record", args=[machine.pk, "o2-supply-alarm"]) not in then.content.decode()
    assert "Old valve</td>" in tab_of(client, machine, "components", **before).content.decode()


def test_a_day_in_the_address_of_the_overview_leads_to_the_safety_features_of_that_day(client, machine):
    client.force_login(make_person("planner"))
    response = client.get(machine.get_absolute_url(), {"on": "2026-05-01"})
    assert response.headers["Location"] == reverse("fleet:machine_features", args=[machine.pk]) + "?on=2026-05-01"


def test_a_date_that_cannot_be_read_is_refused(client, machine):
    client.force_login(make_person("planner"))
    response = client.get(machine.get_absolute_url(), {"on": "yesterday"})
    assert response.status_code == 400 and "on: “yesterday” is not a valid date" in response.content.decode()


def test_the_status_of_a_past_date_is_that_of_the_day(client, machine):
    withdraw_machine(machine, by=None, at=NOON, reason="Leaks")
    assert page_of(client, machine).context["status_change"].status == "withdrawn"
    before = tab_of(client, machine, "features", on="2026-11-01")
    assert before.context["status_change"].status == "in service"
    assert "Leaks" not in before.content.decode()
    assert tab_of(client, machine, "features", on="2000-01-01").context["status_change"] is None


@pytest.mark.parametrize(
    ("group", "withdraws", "retires", "corrects"),
    [
        ("planner", True, False, True),
        ("technician", True, False, False),
        ("manager", False, True, False),
        ("auditor", False, False, False),
    ],
)
def test_each_group_is_offered_what_it_may_do(client, machine, group, withdraws, retires, corrects):
    page = page_of(client, machine, group).content.decode()
    urls = [reverse(f"fleet:machine_{name}", args=[machine.pk]) for name in ("withdraw", "retire", "edit")]
    assert [url in page for url in urls] == [withdraws, retires, corrects]


def test_an_auditor_reads_and_finds_nothing_to_change(client, machine):
    make_component(machine)
    urls = [reverse("fleet:feature_record", args=[machine.pk, "o2-supply-alarm"])]
    urls += [reverse("fleet:component_fit", args=[machine.pk]), reverse("fleet:machine_withdraw", args=[machine.pk])]
    pages = [page_of(client, machine, "auditor"), *(tab_of(client, machine, tab, "auditor") for tab in TABS)]
    assert not [url for page in pages for url in urls if url in page.content.decode()]


def test_a_retired_machine_offers_no_change_of_status(client, machine):
    retire_machine(machine, by=None, at=NOON, reason="Parts are gone")
    page = page_of(client, machine, "manager").content.decode()
    assert reverse("fleet:machine_retire", args=[machine.pk]) not in page


def test_the_page_asks_the_same_number_of_queries_for_a_long_history(client, machine, django_assert_max_num_queries):
    client.force_login(make_person("planner"))
    for number in range(30):
        component = fit_component(
            machine, kind="apl-valve", label=f"APL {number}", fitted_on=date(2016, 1, 1), by=None, at=NOON
        )
        remove_component(component, removed_on=date(2017, 1, 1), by=None, at=NOON)
        day = date(2016, 1, 1) + timedelta(days=number)
        record_feature_state(machine, "control-guard", "fitted", from_date=day, evidence="seen", by=None, at=NOON)
    client.get(machine.get_absolute_url())
    with django_assert_max_num_queries(40):
        response = client.get(machine.get_absolute_url())
    assert len(response.context["events"]) == 4


def test_every_page_of_a_machine_leads_to_every_other(client, machine):
    client.force_login(make_person("auditor"))
    urls = [reverse(page.url_name, args=[machine.pk]) for page in machine_pages()]
    for url in urls:
        text = client.get(url).content.decode()
        assert f'<a href="{url}" aria-current="page"' in text and all(f'<a href="{each}"' in text for each in urls), url


@pytest.mark.parametrize("text", ["A-1", " a-1 ", "S 100", "s 100", "https://bobbin.example/machines/{pk}/"])
def test_what_is_written_on_a_machine_leads_to_it(client, machine, text):
    make_machine(asset_number="A-11", serial="S 1000")
    client.force_login(make_person("technician"))
    response = client.get(reverse("fleet:machine_find"), {"q": text.format(pk=machine.pk)})
    assert response.headers["Location"] == machine.get_absolute_url()


@pytest.mark.parametrize("text", ["A-", "A-1 x", "", "a" * 300, "/machines/999/", "//[", "100"])
def test_a_text_that_no_one_machine_bears_leads_to_the_list(client, machine, text):
    client.force_login(make_person("technician"))
    response = client.get(reverse("fleet:machine_find"), {"q": text}, follow=True)
    assert response.status_code == 200 and response.context["table"] is not None


def test_a_serial_that_two_machines_bear_leads_to_both(client, machine):
    make_machine(asset_number="B-2", serial="S 100")
    client.force_login(make_person("technician"))
    response = client.get(reverse("fleet:machine_find"), {"q": "S 100"}, follow=True)
    assert [row.record.asset_number for row in response.context["table"].rows] == ["A-1", "B-2"]


def test_a_machine_of_another_site_is_not_found(client, machine):
    client.force_login(make_person("technician", sites=[make_site()]))
    response = client.get(reverse("fleet:machine_find"), {"q": "A-1"}, follow=True)
    assert response.redirect_chain[0][0].startswith(reverse("fleet:machines"))
    assert not response.context["table"].rows


def test_the_whole_history_is_paged(client, machine):
    Component.objects.bulk_create(
        Component(machine=machine, kind="apl-valve", label=f"P {n}", fitted_on=MONTHS_AGO) for n in range(60)
    )
    client.force_login(make_person("auditor"))
    response = client.get(reverse("fleet:machine_history", args=[machine.pk]))
    assert (len(response.context["page"]), response.context["page"].paginator.count) == (40, 61)


def test_the_history_shows_dates_of_the_site(client, db):
    site = make_site(time_zone="Pacific/Auckland")
    machine = make_machine(area=site.areas.create(name="Theatre"))
    client.force_login(make_person("auditor"))
    assert "1 Jan 2015</time>" in client.get(machine.get_absolute_url()).content.decode()


def test_a_protection_is_recorded_with_evidence(client, machine):
    person = make_person("technician")
    client.force_login(person)
    url = reverse("fleet:feature_record", args=[machine.pk, "o2-supply-alarm"])
    assert "Not fitted" in client.get(url).content.decode()
    data = {"state": "fitted", "from_date": "2026-05-01", "evidence": "retrofit", "note": "Kit 4"}
    assert client.post(url, data).headers["Location"] == machine.get_absolute_url()
    row = FeatureState.objects.get(machine=machine, feature="o2-supply-alarm", until_date=None)
    assert (row.state, row.from_date, row.evidence, row.note, row.by) == (
        "fitted", MONTHS_AGO, "retrofit", "Kit 4", person,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"from_date": "2014-12-31"}, "Enter a date from 2015-01-01"),
        ({"from_date": "2090-01-01"}, "outside the period"),
        ({"state": "broken"}, "Select a valid choice"),
        ({"evidence": "model default"}, "Select a valid choice"),
    ],
)
def test_a_state_that_cannot_be_is_told_and_nothing_is_kept(client, machine, changed, told):
    client.force_login(make_person("technician"))
    data = {"state": "fitted", "from_date": "2026-05-01", "evidence": "seen", "note": "KEEP", **changed}
    url = reverse("fleet:feature_record", args=[machine.pk, "o2-supply-alarm"])
    page = client.post(url, data).content.decode()
    assert told in page and "KEEP" in page
    assert not FeatureState.objects.exclude(evidence="model default").exists()


def test_recording_a_protection_is_guarded(client, machine):
    url = reverse("fleet:feature_record", args=[machine.pk, "o2-supply-alarm"])
    for group in ("manager", "auditor"):
        client.force_login(make_person(group))
        assert client.post(url, {}).status_code == 403
    client.force_login(make_person("technician", sites=[make_site()]))
    assert client.post(url, {}).status_code == 404
    client.force_login(make_person("technician"))
    assert client.put(url).status_code == 405
    assert client.get(reverse("fleet:feature_record", args=[machine.pk, "no-such-thing"])).status_code == 404


def test_a_component_is_fitted_with_its_rated_values(client, machine):
    client.force_login(make_person("technician"))
    url = reverse("fleet:component_fit", args=[machine.pk])
    assert "Choose the kind of component first" in client.get(url).content.decode()
    url += "?kind=pressure-regulator"
    assert "Set output pressure" in client.get(url).content.decode()
    data = {
        "label": "O2 regulator",
        "gas": "oxygen",
        "serial": "R1",
        "fitted_on": "2026-05-01",
        "rated_output_pressure_0": "310",
        "rated_output_pressure_1": "kPa",
        "rated_rated_flow_0": "",
        "rated_rated_flow_1": "L/min",
    }
    assert client.post(url, data).status_code == 302
    component = Component.objects.get()
    assert (component.kind, component.gas, component.serial, component.rated) == (
        "pressure-regulator", "oxygen", "R1", {"output_pressure": [310.0, "kPa"]},
    )  # fmt: skip


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"gas": ""}, "This field is required"),
        ({"fitted_on": "2090-01-01"}, "in the future"),
        ({"fitted_on": "2010-01-01"}, "the register of machine"),
        ({"label": "Taken"}, "has a component called"),
        ({"rated_output_pressure_0": "-3"}, "-3 psi is negative. Accepted: 0 or more"),
        ({"rated_output_pressure_0": "nan"}, "is not a number"),
        ({"rated_output_pressure_1": "L/min"}, "Select a valid choice"),
    ],
)
def test_a_component_that_cannot_be_is_told_and_not_fitted(client, machine, changed, told):
    make_component(machine, label="Taken")
    client.force_login(make_person("technician"))
    data = {
        "label": "New",
        "gas": "oxygen",
        "fitted_on": "2026-05-01",
        "rated_output_pressure_0": "45",
        "rated_output_pressure_1": "psi",
    } | changed
    response = client.post(reverse("fleet:component_fit", args=[machine.pk]) + "?kind=pressure-regulator", data)
    assert told in response.content.decode()
    assert Component.objects.count() == 1


def test_a_component_of_a_kind_nobody_knows_is_told(client, machine):
    client.force_login(make_person("technician"))
    page = client.get(reverse("fleet:component_fit", args=[machine.pk]), {"kind": "gearbox"}).content.decode()
    assert "is not a kind of component" in page


def test_a_component_is_removed_once(client, machine):
    component = make_component(machine, label="Valve")
    client.force_login(make_person("technician"))
    url = reverse("fleet:component_remove", args=[component.pk])
    today = timezone.localdate()
    assert client.post(url, {"removed_on": str(today)}).headers["Location"] == machine.get_absolute_url()
    component.refresh_from_db()
    assert component.removed_on == today
    assert "already removed" in client.post(url, {"removed_on": str(today)}).content.decode()


@pytest.mark.parametrize("day", ["2014-01-01", "2090-01-01"])
def test_a_component_cannot_be_removed_before_it_was_fitted_or_in_the_future(client, machine, day):
    component = make_component(machine)
    client.force_login(make_person("technician"))
    response = client.post(reverse("fleet:component_remove", args=[component.pk]), {"removed_on": day})
    assert response.status_code == 200
    component.refresh_from_db()
    assert component.removed_on is None


def test_components_are_guarded(client, machine):
    component = make_component(machine)
    urls = [reverse("fleet:component_fit", args=[machine.pk]), reverse("fleet:component_remove", args=[component.pk])]
    for person, status in (
        (make_person("auditor"), 403),
        (make_person("manager"), 403),
        (make_person("technician", sites=[make_site()]), 404),
    ):
        client.force_login(person)
        assert [client.post(url, {}).status_code for url in urls] == [status, status]
    client.force_login(make_person("technician"))
    assert [client.delete(url).status_code for url in urls] == [405, 405]
