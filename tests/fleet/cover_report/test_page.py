"""The cover page: what it shows, to whom, in how many queries."""

import pytest
from django.urls import reverse

from tests.factories import make_area, make_machine, make_person, make_site

URL = "/cover/"


@pytest.fixture
def manager(db):
    return make_person("manager")


def get(client, person, **query):
    client.force_login(person)
    return client.get(URL, query)


def shown(response):
    return [row.machine.asset_number for row in response.context["rows"]]


def test_the_matrix_shows_the_machines_that_are_not_retired(client, fleet, manager):
    response = get(client, manager)
    assert shown(response) == ["A-1", "A-2", "A-3", "A-4"]
    assert "electronic mixing does its job" in response.content.decode()


@pytest.mark.parametrize(
    "label, expected",
    [
        ("Vaporizer exclusion: not fitted", ["A-1", "A-2"]),
        ("Minimum oxygen ratio protection: not fitted", ["A-1"]),
        ("Retained common gas outlet: not fitted", ["A-1"]),
        ("Scavenging connector the size of a breathing connector: present", ["A-1"]),
    ],
)
def test_each_list_is_one_click_away(client, fleet, manager, label, expected):
    response = get(client, manager)
    found = next(each for each, _ in response.context["shortlists"] if each.label == label)
    assert shown(get(client, manager, **found.query)) == expected
    assert found.machines == len(expected)


def test_the_lists_are_those_that_the_fleet_asks_for_the_longest_first(client, fleet, manager):
    labels = [each.label for each, _ in get(client, manager).context["shortlists"]]
    assert labels[0] == "Vaporizer exclusion: not fitted" and labels[-1] == "Not known"
    assert not any("analyser" in label for label in labels)  # nobody recorded that one is missing


def test_the_list_of_what_is_not_known_holds_every_machine_with_a_doubt(client, fleet, manager):
    response = get(client, manager, standing="doubt", hazard="two-agents")
    assert shown(response) == []  # exclusion is recorded on all of them
    assert len(shown(get(client, manager, standing="doubt"))) == 4


def test_a_day_in_the_future_is_refused(client, fleet, manager):
    response = get(client, manager, on="2099-01-01")
    assert response.status_code == 400
    assert "is in the future" in response.content.decode()


def test_a_past_day_is_answered_for_that_day(client, fleet, manager):
    response = get(client, manager, on="2020-05-31", feature="ratio-protection", standing="gap")
    assert shown(response) == ["A-1", "A-2", "A-5"]


@pytest.mark.parametrize("query", [{"site": "x"}, {"feature": "none-such"}, {"standing": "odd"}, {"page": "99"}])
def test_a_query_that_cannot_be_is_refused(client, fleet, manager, query):
    assert get(client, manager, **query).status_code == 400


def test_a_person_of_one_site_sees_only_its_machines(client, fleet):
    person = make_person("manager", sites=[fleet["A-3"].site])
    response = get(client, person)
    assert shown(response) == ["A-3", "A-4"]
    assert response.context["report"].machines == 2
    assert "North" not in response.content.decode()


def test_without_permission_the_page_and_its_exports_are_refused(client, fleet):
    assert get(client, make_person()).status_code == 403
    assert client.get(reverse("fleet:cover_export", args=["csv"])).status_code == 403


def test_a_change_cannot_be_sent(client, fleet, manager):
    client.force_login(manager)
    assert client.post(URL).status_code == 405


@pytest.mark.parametrize("fmt, start", [("csv", b"\xef\xbb\xbf"), ("xlsx", b"PK"), ("pdf", b"%PDF")])
def test_each_export_is_sent_as_a_file_under_its_own_name(client, fleet, manager, fmt, start):
    client.force_login(manager)
    response = client.get(reverse("fleet:cover_export", args=[fmt]), {"on": "2026-11-02"})
    assert response.content.startswith(start)
    assert response["Content-Disposition"] == f'attachment; filename="cover-2026-11-02.{fmt}"'


def test_an_export_of_an_impossible_day_says_what_is_wrong(client, fleet, manager):
    client.force_login(manager)
    response = client.get(reverse("fleet:cover_export", args=["csv"]), {"on": "soon"})
    assert response.status_code == 400 and "As of: “soon” is not accepted" in response.content.decode()
    assert client.get(reverse("fleet:cover_export", args=["doc"])).status_code == 404


def test_an_empty_register_says_what_to_do(client, manager):
    assert "import the register first" in get(client, manager).content.decode()


def test_the_page_asks_as_many_queries_for_thirty_machines_as_for_three(
    client, manager, django_assert_max_num_queries, django_assert_num_queries
):
    area = make_area(make_site())
    first = make_machine(area=area, features={"ratio-protection": "not fitted"})
    client.force_login(manager)
    client.get(URL)
    with django_assert_max_num_queries(20) as few:
        client.get(URL)
    for _ in range(30):
        make_machine(area=area, model=first.model)
    with django_assert_num_queries(len(few.captured_queries)):
        client.get(URL)
