"""The pages of the tokens of programs."""

import re
from datetime import timedelta

import pytest
from django.contrib.auth.models import Group
from django.urls import reverse
from django.utils import timezone

from fleet.actions import add_token
from fleet.models import ApiToken
from tests.factories import NOON, PASSWORD, make_person, make_site, make_token

LIST, ADD = reverse("fleet:api_tokens"), reverse("fleet:api_token_add")


@pytest.fixture
def chief(db, client):
    person = make_person("planner-in-chief")
    client.force_login(person)
    return person


def token_of(owner, name="Stores system"):
    today = timezone.localdate()
    group = Group.objects.get(name="technician")
    return add_token(name=name, owner=owner, group=group, expires_on=today, by=None, at=NOON, today=today)


def form(owner, **fields):
    group = Group.objects.get(name="technician").pk
    day = timezone.localdate() + timedelta(days=30)
    return {"name": "Stores system", "owner": owner.pk, "group": group, "expires_on": str(day), **fields}


def revoke_url(token):
    return reverse("fleet:api_token_revoke", args=[token.pk])


def secret_on(page):
    return next((word for word in re.split(r"[<>\s]", page) if word.startswith("bobbin_")), None)


def test_a_token_is_asked_for_without_a_secret_and_listed_as_waiting(chief, client):
    answer = client.post(ADD, form(make_person("technician"))).content.decode()
    token = ApiToken.objects.get()
    assert token.added_by == chief and token.digest is None
    assert "has confirmed it" in answer and secret_on(answer) is None
    listed = client.get(LIST).content.decode()
    assert token.name in listed and "Awaiting its owner" in listed


class TestOwn:
    OWN = reverse("fleet:own_tokens")

    @pytest.fixture
    def owner(self, db, client):
        owner = make_person("technician")
        client.force_login(owner)
        return owner

    def confirm_url(self, token):
        return reverse("fleet:own_token_confirm", args=[token.pk])

    def own_revoke_url(self, token):
        return reverse("fleet:own_token_revoke", args=[token.pk])

    def test_the_owner_sees_the_token_on_the_home_page_in_the_menu_and_in_the_list(self, owner, client):
        token = token_of(owner)
        home = client.get("/").content.decode()
        assert self.confirm_url(token) in home and f'href="{self.OWN}">My tokens' in home
        page = client.get(self.OWN).content.decode()
        assert "Awaiting its owner" in page and self.confirm_url(token) in page and self.own_revoke_url(token) in page

    def test_the_owner_confirms_with_the_password_and_sees_the_secret_once(self, owner, client):
        token = token_of(owner)
        assert "What you confirm" in client.get(self.confirm_url(token)).content.decode()
        refused = client.post(self.confirm_url(token), {"password": "wrong"}).content.decode()
        assert "is not confirmed; try again" in refused and not ApiToken.objects.get().is_confirmed
        answer = client.post(self.confirm_url(token), {"password": PASSWORD})
        secret = secret_on(answer.content.decode())
        assert ApiToken.objects.with_secret(secret).get() == token and "no-store" in answer["Cache-Control"]
        for url in (self.OWN, self.confirm_url(token), "/"):
            assert secret not in client.get(url).content.decode()
        again = client.post(self.confirm_url(token), {"password": PASSWORD}).content.decode()
        assert "already confirmed or revoked" in again and secret_on(again) is None

    def test_the_owner_revokes_at_any_time(self, owner, client):
        for token in (token_of(owner, "Waiting"), make_token(owner, name="In force")[0]):
            assert "cannot be undone" in client.get(self.own_revoke_url(token)).content.decode()
            assert client.post(self.own_revoke_url(token)).url == self.OWN
            token.refresh_from_db()
            assert token.revoked_by == owner
            assert "already revoked" in client.post(self.own_revoke_url(token), follow=True).content.decode()

    def test_nobody_finds_the_token_of_another_on_their_own_pages(self, chief, client):
        token = token_of(make_person("technician"))
        assert token.name not in client.get(self.OWN).content.decode()
        for url in (self.confirm_url(token), self.own_revoke_url(token)):
            assert client.get(url).status_code == 404
            assert client.post(url, {"password": PASSWORD}).status_code == 404
        token.refresh_from_db()
        assert token.awaits_owner

    def test_an_older_token_works_on_and_is_listed_until_its_owner_decides(self, owner, client):
        token, secret = make_token(owner)
        ApiToken.objects.update(confirmed_at=None, predates_confirmation=True)
        bearer = {"Authorization": f"Bearer {secret}"}
        assert client.get("/api/v1/sites", headers=bearer).status_code == 200
        assert "Active, never confirmed" in client.get(self.OWN).content.decode()
        assert "already works with your rights" in client.get(self.confirm_url(token)).content.decode()
        client.post(self.own_revoke_url(token))
        assert client.get("/api/v1/sites", headers=bearer).status_code == 401


def test_a_form_with_a_group_that_the_owner_lacks_is_refused(chief, client):
    answer = client.post(ADD, form(make_person("auditor")))
    assert "is not in the group technician" in answer.content.decode() and not ApiToken.objects.exists()


def test_a_form_with_a_day_too_far_ahead_is_refused(chief, client):
    day = timezone.localdate() + timedelta(days=900)
    answer = client.post(ADD, form(make_person("technician"), expires_on=str(day)))
    assert "cannot be the last day" in answer.content.decode() and not ApiToken.objects.exists()


def test_a_token_is_revoked_after_a_question(chief, client):
    token = token_of(make_person("technician"))
    assert "cannot be undone" in client.get(revoke_url(token)).content.decode()
    assert client.post(revoke_url(token)).url == LIST
    token.refresh_from_db()
    assert token.revoked_by == chief
    assert "already revoked" in client.post(revoke_url(token), follow=True).content.decode()


@pytest.mark.parametrize("group", ["technician", "auditor", "manager", "planner"])
def test_others_may_neither_see_nor_hand_out_tokens(client, db, group):
    token = token_of(make_person("technician"))
    client.force_login(make_person(group))
    for url in (LIST, ADD, revoke_url(token)):
        assert client.get(url).status_code == 403
        assert client.post(url).status_code == 403


def test_somebody_narrowed_to_a_site_hands_out_for_that_site_only(client, db):
    here, there = make_site(), make_site()
    client.force_login(make_person("planner-in-chief", sites=[here]))
    mine = token_of(make_person("technician", sites=[here]), "Mine")
    everywhere, elsewhere = make_person("technician"), make_person("technician", sites=[here, there])
    token_of(elsewhere, "Not mine")
    listed = client.get(LIST).content.decode()
    assert "Mine" in listed and "Not mine" not in listed
    assert client.get(revoke_url(mine)).status_code == 200
    for owner in (everywhere, elsewhere):
        client.post(ADD, form(owner, name="More"))
    assert not ApiToken.objects.filter(name="More").exists()


def test_the_list_takes_as_many_queries_for_thirty_rows_as_for_three(chief, client, django_assert_num_queries):
    owner = make_person("technician")
    client.get(LIST)
    for number in range(3):
        token_of(owner, f"Few {number}")
    with django_assert_num_queries(count := counted(client)):
        client.get(LIST)
    for number in range(27):
        token_of(owner, f"Many {number}")
    with django_assert_num_queries(count):
        client.get(LIST)


def counted(client):
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    with CaptureQueriesContext(connection) as queries:
        client.get(LIST)
    return len(queries)
