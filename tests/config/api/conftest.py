from dataclasses import dataclass
from datetime import date

import pytest
from django.contrib.auth.models import Group
from django.core.cache import cache

from fleet.actions import add_token
from tests.factories import NOON, make_person
from tests.inspections.scenes import make_scene


@dataclass
class Caller:
    """Calls the API as a program would: with a token, never with a session."""

    client: object
    secret: str
    token: object = None

    def get(self, path, **query):
        return self.client.get(f"/api/v1{path}", query, headers=self.headers)

    def post(self, path, body):
        return self.client.post(f"/api/v1{path}", body, content_type="application/json", headers=self.headers)

    def items(self, path, **query):
        return self.get(path, **query).json()["items"]

    @property
    def headers(self):
        return {"Authorization": f"Bearer {self.secret}"}


def make_token(group="technician", *, owner=None, name="Stores system", expires_on=None):
    owner = owner or make_person(group)
    today = date.today()
    token, secret = add_token(
        name=name, owner=owner, group=Group.objects.get(name=group), expires_on=today, by=None, at=NOON, today=today
    )
    if expires_on:
        type(token).objects.filter(pk=token.pk).update(expires_on=expires_on)
    return token, secret


@pytest.fixture
def call_as(db, client):
    """Makes a caller in the named group, at the sites of `owner`."""
    cache.clear()

    def caller(group="technician", **kwargs):
        token, secret = make_token(group, name=f"Program of {group} {len(kwargs)}", **kwargs)
        return Caller(client, secret, token)

    return caller


@pytest.fixture
def scene(db, tmp_path):
    return make_scene(tmp_path)
