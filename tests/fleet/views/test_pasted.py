import pytest
from django.urls import reverse

from fleet.models import Area, Person, Site
from tests.factories import make_area, make_person, make_site

PLACES, PEOPLE = reverse("fleet:places_paste"), reverse("fleet:people_paste")


@pytest.fixture
def planner(client, db):
    person = make_person("planner", "planner-in-chief")
    client.force_login(person)
    return person


def look(client, address, lines):
    return client.post(address, {"lines": lines})


def save(client, address, lines):
    shown = look(client, address, lines).context["plan"].sign
    return client.post(address, {"lines": lines, "shown": shown}, follow=True)


def told(response):
    return [words for _, words in response.context["plan"].problems]


def test_a_list_is_shown_before_anything_is_saved(client, planner):
    page = look(client, PLACES, "North;Theatre 1;2;12;Europe/Lisbon\nNorth;Recovery\n")
    assert len(page.context["plan"].new) == 2 and "Save 2 lines" in page.content.decode()
    assert not Site.objects.exists()


def test_sites_and_areas_are_made_from_what_was_shown(client, planner):
    page = save(
        client,
        PLACES,
        "site\tarea\tminimum\taltitude\ttime zone\nNorth\tTheatre 1\t2\t12\tEurope/Lisbon\nNorth\tRecovery\n",
    )
    assert "1 sites and 2 areas are saved" in page.content.decode()
    site = Site.objects.get()
    assert (site.code, site.altitude_m, site.time_zone) == ("north", 12, "Europe/Lisbon")
    assert dict(site.areas.values_list("name", "minimum_machines")) == {"Theatre 1": 2, "Recovery": 0}


def test_what_is_entered_already_stays_as_it_is(client, planner):
    make_area(make_site(name="North", code="n"), name="Theatre 1", minimum_machines=4)
    page = look(client, PLACES, "n;theatre 1;9\nNorth;Recovery\n")
    assert [len(page.context["plan"].known), len(page.context["plan"].new)] == [1, 1]
    save(client, PLACES, "n;theatre 1;9\nNorth;Recovery\n")
    assert Area.objects.get(name="Theatre 1").minimum_machines == 4 and Area.objects.count() == 2


@pytest.mark.parametrize(
    ("line", "words"),
    [
        (";Theatre 1", "has no site"),
        ("North;A", "lacks its altitude or time zone"),
        ("North;A;;twelve;UTC", "“twelve” is not a altitude in metres. Accepted: a whole number"),
        ("North;A;;12;Atlantis", "“Atlantis” is not a time zone"),
        ("North;A;-1;12;UTC", "minimum number of machines"),
        ("North;A;1;12;UTC;more", "has 6 cells"),
    ],
)
def test_a_wrong_line_says_what_is_accepted_and_nothing_is_saved(client, planner, line, words):
    page = look(client, PLACES, f"South;B;1;12;UTC\n{line}\n")
    assert words in told(page)[0] and "Line 2" in page.content.decode()
    client.post(PLACES, {"lines": f"South;B;1;12;UTC\n{line}\n", "shown": page.context["plan"].sign})
    assert not Site.objects.exists()


def test_a_list_that_changed_since_it_was_shown_is_shown_again(client, planner):
    shown = look(client, PLACES, "North;A;1;12;UTC\n").context["plan"].sign
    page = client.post(PLACES, {"lines": "North;A;1;900;UTC\n", "shown": shown})
    assert "has changed since it was shown" in page.content.decode() and not Site.objects.exists()


def test_a_planner_of_one_site_adds_areas_there_and_no_site(client, db):
    site, other = make_site(name="North"), make_site(name="South")
    client.force_login(make_person("planner", sites=[site]))
    assert "“South” is no site that you may change" in told(look(client, PLACES, "South;A;1;12;UTC\n"))[0]
    assert "“East” is no site that you may change" in told(look(client, PLACES, "East;A;1;12;UTC\n"))[0]
    save(client, PLACES, "North;A\n")
    assert list(Area.objects.values_list("site__name", "name")) == [("North", "A")] and not other.areas.exists()


@pytest.mark.parametrize(("address", "group"), [(PLACES, "technician"), (PEOPLE, "planner")])
def test_other_groups_may_not(client, db, address, group):
    client.force_login(make_person(group))
    assert client.get(address).status_code == 403
    assert client.put(address).status_code == 405 or client.put(address).status_code == 403


def test_people_are_made_with_a_password_link_each(client, planner):
    make_site(name="North", code="n")
    lines = "Ada;Byrne;;ada@hospital.example;technician+auditor;n\nBo;Ek;bo;;planner\n"
    page = save(client, PEOPLE, lines)
    ada = Person.objects.get(username="ada.byrne")
    assert set(ada.groups.values_list("name", flat=True)) == {"technician", "auditor"}
    assert [site.name for site in ada.sites.all()] == ["North"] and not ada.has_usable_password()
    links = [link for _, link in page.context["links"]]
    assert len(links) == 2 and client.get(links[0], follow=True).status_code == 200


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("Ada", "lacks a name"),
        ("Ada;Byrne;a b", "“a b” is not a username"),
        ("Ada;Byrne;;nowhere", "“nowhere” is not a email address"),
        ("Ada;Byrne;;;surgeon", "“surgeon” is no group. Accepted: auditor"),
        ("Ada;Byrne;;;auditor;Atlantis", "“Atlantis” is no site"),
        ("Bo;Ek;bo;;auditor", "in the list twice"),
    ],
)
def test_a_wrong_person_says_what_is_accepted_and_nobody_is_made(client, planner, line, words):
    page = look(client, PEOPLE, f"Bo;Ek;bo;;auditor\n{line}\n")
    assert words in told(page)[0]
    client.post(PEOPLE, {"lines": f"Bo;Ek;bo;;auditor\n{line}\n", "shown": page.context["plan"].sign})
    assert not Person.objects.filter(username="bo").exists()


def test_a_person_who_has_an_account_stays_as_they_are(client, planner):
    make_person("auditor", username="bo", first_name="Bo")
    page = look(client, PEOPLE, "Bertil;Ek;BO;;planner\n")
    assert len(page.context["plan"].known) == 1 and "entered already" in page.content.decode()


def test_somebody_limited_to_a_site_gives_no_other_and_at_least_one(client, db):
    site = make_site(name="North")
    make_site(name="South")
    client.force_login(make_person("planner-in-chief", sites=[site]))
    assert "names no site. Accepted: at least one of North" in told(look(client, PEOPLE, "Bo;Ek;bo;;auditor\n"))[0]
    assert "“South” is no site that you may give" in told(look(client, PEOPLE, "Bo;Ek;bo;;auditor;South\n"))[0]
    save(client, PEOPLE, "Bo;Ek;bo;;auditor;North\n")
    assert Person.objects.get(username="bo").sites.get() == site
