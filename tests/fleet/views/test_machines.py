import csv
import io
from datetime import date

import pytest
from django.urls import reverse

from fleet.actions import record_feature_state
from fleet.models import Machine
from fleet.web.query_values import EARLIER_NAMES
from tests.factories import NOON, make_area, make_inspection, make_machine, make_model, make_person, make_site

MACHINES = reverse("fleet:machines")


@pytest.fixture
def planner(client, db):
    person = make_person("planner")
    client.force_login(person)
    return person


def listed(client, **query):
    response = client.get(MACHINES, query)
    assert response.status_code == 200
    return [row.record.asset_number for row in response.context["table"].page.object_list]


def read_csv(response):
    text = b"".join(response.streaming_content if response.streaming else [response.content]).decode("utf-8-sig")
    return list(csv.DictReader(io.StringIO(text)))


def test_the_list_shows_place_status_gaps_and_next_due(client, planner):
    machine = make_machine(asset_number="A-1", features={"o2-supply-alarm": "not fitted"})
    make_inspection(machine)
    page = client.get(MACHINES).content.decode()
    for told in ("A-1", machine.area.name, machine.site.name, "Oxygen supply-pressure alarm", "2 Nov 2026"):
        assert told in page


# The person (session, person, two of permissions, sites), choices of the filter (3), what applies to which model (again
# to sort by gaps), count, the page, its gaps.
@pytest.mark.parametrize(
    ("sort", "queries"),
    [
        ("", 12),
        ("missing", 12),
        ("-missing", 12),
        ("next_due_on", 12),
        ("-next_due_on", 12),
        ("area", 12),
        ("model", 12),
    ],
)
def test_the_list_asks_the_same_number_of_queries_for_many_machines(
    client, planner, django_assert_num_queries, sort, queries
):
    area, model = make_area(), make_model(features={"o2-supply-alarm": "not fitted", "o2-analyser": "fitted"})
    for count in (3, 27):
        for _ in range(count):
            make_machine(area=area, model=model)
        client.get(MACHINES, {"sort": sort})
        with django_assert_num_queries(queries):
            client.get(MACHINES, {"sort": sort})


def test_each_filter_narrows_the_list(client, planner):
    area, model = make_area(name="Theatre 7"), make_model(name="Quarto", features={"ratio-protection": "fitted"})
    wanted = make_machine(asset_number="A-1", area=area, model=model, serial="S-77")
    other = make_machine(asset_number="B-2", features={"ratio-protection": "not fitted"})
    Machine.objects.filter(pk=other.pk).update(status="withdrawn")
    for query in (
        {"q": "s-77"},
        {"q": "quarto"},
        {"site": area.site_id},
        {"area": area.pk},
        {"model": model.pk},
        {"status": "in service"},
        {"feature": "ratio-protection", "state": "fitted"},
    ):
        assert listed(client, **query) == [wanted.asset_number], query
    assert listed(client, feature="ratio-protection") == ["B-2"]


def test_a_retired_machine_is_listed_only_when_asked_for(client, planner):
    Machine.objects.filter(pk=make_machine(asset_number="A-1").pk).update(status="retired")
    assert listed(client) == []
    assert listed(client, status="retired") == listed(client, status="any") == ["A-1"]


def test_an_address_with_earlier_names_of_its_values_is_still_understood(client, planner):
    earlier = {new: old for old, new in EARLIER_NAMES.items()}["status"]
    make_machine(asset_number="A-1")
    Machine.objects.filter(pk=make_machine(asset_number="B-2").pk).update(status="withdrawn")
    assert listed(client, **{earlier: "withdrawn"}) == ["B-2"]
    assert listed(client, **{earlier: "any", "sort": f"-{earlier}"}) == ["B-2", "A-1"]


def test_a_filter_that_is_not_accepted_is_refused_by_name(client, planner):
    response = client.get(MACHINES, {"site": "999", "q": "A"})
    assert response.status_code == 400
    assert "Site: “999” is not accepted" in response.content.decode()


def test_the_list_sorts_by_the_number_of_missing_protections(client, planner):
    two = {"o2-supply-alarm": "not fitted", "o2-analyser": "not fitted"}
    make_machine(asset_number="A-none")
    make_machine(asset_number="B-two", features=two)
    make_machine(asset_number="C-one", features={"o2-analyser": "not fitted"})
    assert listed(client, sort="-missing") == ["B-two", "C-one", "A-none"]
    assert listed(client, sort="missing") == ["A-none", "C-one", "B-two"]


def test_a_changed_filter_gets_only_the_table_and_caches_keep_the_two_apart(client, planner):
    make_machine(asset_number="A-1")
    whole = client.get(MACHINES)
    part = client.get(MACHINES, headers={"HX-Request": "true"})
    assert b"<html" in whole.content and b"<html" not in part.content
    assert b"A-1" in part.content
    assert "HX-Request" in whole["Vary"] and "HX-Request" in part["Vary"]


def test_going_back_to_the_list_gets_the_whole_page(client, planner):
    headers = {"HX-Request": "true", "HX-History-Restore-Request": "true"}
    assert b"<html" in client.get(MACHINES, headers=headers).content


def test_an_empty_register_says_what_to_do(client, planner):
    assert "add or import machines" in client.get(MACHINES).content.decode()


def test_a_person_of_another_site_sees_nothing_of_it(client, db):
    machine = make_machine(asset_number="A-1")
    client.force_login(make_person("planner", sites=[make_site()]))
    assert listed(client) == []
    for name in ("machine", "machine_edit", "machine_history", "machine_withdraw", "component_fit"):
        assert client.get(reverse(f"fleet:{name}", args=[machine.pk])).status_code == 404
    assert read_csv(client.get(reverse("fleet:machines_csv"))) == []


def test_the_list_is_for_those_who_may_see_machines(client, db):
    client.force_login(make_person())
    for name in ("machines", "machines_csv", "register_csv"):
        assert client.get(reverse(f"fleet:{name}")).status_code == 403


def test_the_download_holds_every_filtered_machine_and_no_formula(client, planner):
    area = make_area()
    for number in range(30):
        make_machine(asset_number=f"A-{number:02}", area=area, serial="=1+1")
    make_machine(asset_number="B-1", features={"o2-supply-alarm": "not fitted"})
    rows = read_csv(client.get(reverse("fleet:machines_csv"), {"area": area.pk}))
    assert [row["asset_number"] for row in rows] == [f"A-{number:02}" for number in range(30)]
    assert rows[0]["serial"] == "'=1+1"
    (row,) = read_csv(client.get(reverse("fleet:machines_csv"), {"q": "B-1"}))
    assert (row["essential_missing"], row["essential_missing_names"]) == ("1", "Oxygen supply-pressure alarm")


def test_a_download_cannot_be_posted_to(client, planner):
    assert client.post(reverse("fleet:machines_csv")).status_code == 405


def form_data(model, area, **changed):
    fields = {"asset_number": "A-1", "serial": "S", "model": model.pk, "area": area.pk, "built_year": 1990}
    return {**fields, "in_use_from": "1991-05-01", "note": "", **changed}


def test_a_machine_is_entered_with_its_models_protections(client, planner):
    model = make_model(features={"o2-analyser": "fitted"})
    response = client.post(reverse("fleet:machine_add"), form_data(model, make_area()))
    machine = Machine.objects.get()
    assert response.headers["Location"] == machine.get_absolute_url()
    assert machine.feature_states.get().by == planner


@pytest.mark.parametrize(
    ("changed", "told"),
    [
        ({"asset_number": "a-0"}, "already in use"),
        ({"in_use_from": "2090-01-01"}, "in the future"),
        ({"in_use_from": "1.5.1991"}, "or as 2019-03-31"),
        ({"built_year": "1995"}, "later than the first day in use"),
        ({"built_year": "1800"}, "1900"),
    ],
)
def test_an_entry_that_cannot_be_is_told_and_kept_in_the_form(client, planner, changed, told):
    make_machine(asset_number="A-0")
    response = client.post(reverse("fleet:machine_add"), form_data(make_model(), make_area(), serial="KEEP", **changed))
    page = response.content.decode()
    assert told in page and "KEEP" in page
    assert Machine.objects.count() == 1


def test_an_entry_is_corrected(client, planner):
    machine = make_machine(asset_number="A-0")
    client.post(reverse("fleet:machine_edit", args=[machine.pk]), form_data(machine.model, machine.area, serial="S9"))
    machine.refresh_from_db()
    assert (machine.asset_number, machine.serial, machine.built_year) == ("A-1", "S9", 1990)


def test_a_correction_that_would_cut_off_history_is_told_in_the_form(client, planner):
    machine = make_machine(features={"o2-analyser": "fitted"})
    record_feature_state(
        machine, "control-guard", "fitted", from_date=date(2016, 1, 1), evidence="seen", by=planner, at=NOON
    )
    data = form_data(machine.model, machine.area, in_use_from="2017-01-01")
    assert "history before" in client.post(reverse("fleet:machine_edit", args=[machine.pk]), data).content.decode()


@pytest.mark.parametrize("group", ["technician", "manager", "auditor"])
def test_only_a_planner_enters_and_corrects_machines(client, db, group):
    machine = make_machine()
    client.force_login(make_person(group))
    for url in (reverse("fleet:machine_add"), reverse("fleet:machine_edit", args=[machine.pk])):
        assert client.get(url).status_code == 403
        assert client.post(url, {}).status_code == 403


def test_a_form_page_takes_no_other_method(client, planner):
    assert client.put(reverse("fleet:machine_add")).status_code == 405
