"""The pages that manage accounts, and the command that does the same."""

from io import StringIO

import pytest
from django.contrib.auth.models import Group
from django.core.management import CommandError, call_command
from django.urls import reverse
from django_otp.plugins.otp_totp.models import TOTPDevice

from fleet.models import ChangeEntry, Person
from tests.factories import make_person, make_site

CHIEF = "planner-in-chief"


@pytest.fixture
def chief(db, client):
    person = make_person(CHIEF, username="chief")
    client.force_login(person)
    return person


def group(name):
    return Group.objects.get(name=name)


def url(name, person):
    return reverse(f"fleet:{name}", args=[person.pk])


def sent(person, groups=(), sites=(), **fields):
    names = {"first_name": person.first_name, "last_name": person.last_name, "email": ""}
    return {**names, "groups": [group(name).pk for name in groups], "sites": [site.pk for site in sites], **fields}


def groups_of(person):
    return set(person.groups.values_list("name", flat=True))


def test_entering_a_person_shows_a_link_and_keeps_who_did_it(client, chief):
    site = make_site()
    new = {"username": "rui", "first_name": "Rui", "last_name": "Serra", "email": ""}
    page = client.post(reverse("fleet:person_add"), {**new, "groups": [group("technician").pk], "sites": [site.pk]})
    person = Person.objects.get(username="rui")
    assert not person.has_usable_password() and groups_of(person) == {"technician"} and person.site_ids == [site.pk]
    assert "http://testserver/password/" in page.content.decode()
    assert ChangeEntry.objects.filter(record="person", record_pk=person.pk, by=chief).exists()


def test_a_username_that_is_taken_is_refused(client, chief):
    page = client.post(reverse("fleet:person_add"), {"username": "chief", "first_name": "A", "last_name": "B"})
    assert "already exists" in page.content.decode()


def test_groups_and_sites_are_changed(client, chief):
    person, site = make_person("technician"), make_site()
    client.post(url("person_edit", person), sent(person, ["planner"], [site]))
    assert groups_of(person) == {"planner"} and set(person.sites.all()) == {site}
    entry = ChangeEntry.objects.filter(record="person").first()
    assert entry.before["Groups"] == ["technician"] and entry.after["Groups"] == ["planner"]


def test_nobody_gives_themselves_a_group(client, chief):
    page = client.post(url("person_edit", chief), sent(chief, [CHIEF, "technician"]))
    assert "You cannot add yourself to a group" in page.content.decode()
    assert groups_of(chief) == {CHIEF}


def test_the_last_who_looks_after_people_cannot_give_it_up(client, chief):
    page = client.post(url("person_edit", chief), sent(chief, []))
    assert "Nobody would be left" in page.content.decode()
    assert groups_of(chief) == {CHIEF}


def test_the_last_who_looks_after_people_cannot_be_narrowed_to_a_site_either(client, chief):
    page = client.post(url("person_edit", chief), sent(chief, [CHIEF], [make_site()]))
    assert "Nobody would be left" in page.content.decode()


def test_with_another_one_there_it_can_be_given_up(client, chief):
    make_person(CHIEF)
    client.post(url("person_edit", chief), sent(chief, []))
    assert groups_of(chief) == set()


def test_the_last_one_cannot_be_locked_and_nobody_locks_themselves(client, chief):
    client.post(url("person_lock", chief))
    chief.refresh_from_db()
    assert chief.is_active


def test_locking_and_unlocking(client, chief):
    person = make_person("technician")
    client.post(url("person_lock", person))
    assert not Person.objects.get(pk=person.pk).is_active
    again = client.post(url("person_lock", person), follow=True)
    assert "is already locked" in again.content.decode()
    client.post(url("person_unlock", person))
    assert Person.objects.get(pk=person.pk).is_active


def test_a_second_factor_is_removed(client, chief):
    person = make_person("technician")
    TOTPDevice.objects.create(user=person, confirmed=True)
    client.post(url("person_second_factor", person))
    assert not TOTPDevice.objects.exists()
    assert "has no second factor" in client.post(url("person_second_factor", person), follow=True).content.decode()


@pytest.mark.parametrize("name", ["person_lock", "person_unlock", "person_second_factor", "person_link"])
def test_an_act_by_a_link_alone_is_refused(client, chief, name):
    assert client.get(url(name, make_person())).status_code == 405


@pytest.mark.parametrize("name", ["person", "person_edit", "person_lock", "person_link", "person_second_factor"])
def test_an_account_that_may_do_everything_is_not_found(client, chief, name):
    admin = Person.objects.create_superuser("admin", password="x")
    post = name not in ("person", "person_edit")
    answer = client.post(url(name, admin)) if post else client.get(url(name, admin))
    assert answer.status_code == 404


class TestNarrowed:
    @pytest.fixture
    def site(self, db):
        return make_site()

    @pytest.fixture
    def narrowed(self, client, site):
        person = make_person(CHIEF, sites=[site])
        client.force_login(person)
        return person

    def test_finds_the_people_of_the_own_sites_alone(self, client, narrowed, site):
        own, everywhere = make_person(sites=[site]), make_person()
        both, other = make_person(sites=[site, make_site()]), make_person(sites=[make_site()])
        assert client.get(url("person", own)).status_code == 200
        assert [client.get(url("person", one)).status_code for one in (everywhere, both, other)] == [404] * 3

    def test_cannot_make_an_account_for_every_site(self, client, narrowed):
        new = {"username": "rui", "first_name": "Rui", "last_name": "Serra"}
        client.post(reverse("fleet:person_add"), new)
        client.post(reverse("fleet:person_add"), {**new, "sites": [make_site().pk]})
        assert not Person.objects.filter(username="rui").exists()

    def test_cannot_widen_somebody(self, client, narrowed, site):
        own = make_person("technician", sites=[site])
        client.post(url("person_edit", own), sent(own, ["technician"], [site, make_site()]))
        client.post(url("person_edit", own), sent(own, ["technician"], []))
        assert set(own.sites.all()) == {site}


def test_the_list_tells_who_is_locked_and_costs_the_same_with_many(client, chief, django_assert_num_queries):
    make_person("technician", last_name="Locked", is_active=False)
    assert "Locked" in client.get("/people/?q=Locked").content.decode()
    counts = []
    for more in (2, 18):
        for _ in range(more):
            make_person("technician", sites=[make_site()])
        with django_assert_num_queries(20, exact=False) as captured:
            assert client.get("/people/").status_code == 200
        counts.append(len(captured))
    assert counts[0] == counts[1]


class TestCommand:
    def run(self, *words):
        out = StringIO()
        call_command("person", *words, stdout=out)
        return out.getvalue()

    def test_enters_groups_narrows_locks_and_unlocks(self, db):
        make_site(code="north")
        said = self.run("add", "rui", "--last-name", "Serra", "--group", "technician", "--site", "north")
        assert "http://localhost:8000/password/" in said
        person = Person.objects.get(username="rui")
        self.run("groups", "rui", "planner", "auditor")
        self.run("sites", "rui")
        assert groups_of(person) == {"planner", "auditor"} and not person.sites.exists()
        self.run("lock", "rui")
        assert "rui; Serra; auditor, planner; every site; locked" in self.run("list")
        self.run("unlock", "rui")
        assert Person.objects.get(pk=person.pk).is_active

    @pytest.mark.parametrize(
        "words, sentence",
        [
            (["lock", "nobody"], "Nobody has the username “nobody”"),
            (["groups", "chief", "kings"], "There is no group kings. Accepted: auditor, manager"),
            (["sites", "chief", "moon"], "There is no site moon"),
            (["add", "chief"], "“chief” is already in use as a username"),
        ],
    )
    def test_says_what_is_accepted(self, db, words, sentence):
        make_person(CHIEF, username="chief")
        with pytest.raises(CommandError, match=sentence):
            self.run(*words)


def test_the_home_page_tells_whose_account_cannot_be_used(client, chief):
    make_person(last_name="Groupless")
    page = client.get("/").content.decode()
    assert "account is in no group and has no access" in page and "Groupless" in page
