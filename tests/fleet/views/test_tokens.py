"""The pages of the keys of programs."""

from datetime import timedelta

import pytest
from django.contrib.auth.models import Group
from django.urls import reverse
from django.utils import timezone

from fleet.actions import add_token
from fleet.models import ApiToken
from tests.factories import NOON, make_person, make_site

LIST, ADD = reverse("fleet:api_tokens"), reverse("fleet:api_token_add")


@pytest.fixture
def chief(db, client):
    person = make_person("planner-in-chief")
    client.force_login(person)
    return person


def token_of(owner, name="Stores system"):
    today = timezone.localdate()
    group = Group.objects.get(name="technician")
    return add_token(name=name, owner=owner, group=group, expires_on=today, by=None, at=NOON, today=today)[0]


def form(owner, **fields):
    group = Group.objects.get(name="technician").pk
    day = timezone.localdate() + timedelta(days=30)
    return {"name": "Stores system", "owner": owner.pk, "group": group, "expires_on": str(day), **fields}


def revoke_url(token):
    return reverse("fleet:api_token_revoke", args=[token.pk])


def test_a_token_is_handed_out_and_its_secret_shown_once(chief, client):
    answer = client.post(ADD, form(make_person("technician")))
    token = ApiToken.objects.get()
    assert token.added_by == chief and token.start in answer.content.decode()
    assert "no-store" in answer["Cache-Control"]
    listed = client.get(LIST).content.decode()
    secret = next(
        word for word in answer.content.decode().replace("<", " ").replace(">", " ").split() if "bobbin_" in word
    )
    assert ApiToken.objects.with_secret(secret).get() == token
    assert token.name in listed and secret not in listed


def test_a_form_with_a_group_that_the_owner_lacks_is_refused(chief, client):
    answer = client.post(ADD, form(make_person("auditor")))
    assert "is not in the group technician" in answer.content.decode() and not ApiToken.objects.exists()


def test_a_form_with_a_day_too_far_ahead_is_refused(chief, client):
    day = timezone.localdate() + timedelta(days=900)
    answer = client.post(ADD, form(make_person("technician"), expires_on=str(day)))
    assert "cannot be the last day" in answer.content.decode() and not ApiToken.objects.exists()


def test_a_token_is_revoked_after_a_question(chief, client):
    token = token_of(make_person("technician"))
    assert "For good" in client.get(revoke_url(token)).content.decode()
    assert client.post(revoke_url(token)).url == LIST
    token.refresh_from_db()
    assert token.revoked_by == chief
    assert "revoked already" in client.post(revoke_url(token), follow=True).content.decode()


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
