"""A program that calls the API with a token, and the fixtures that tests of the API share."""

from dataclasses import dataclass

import pytest
from django.core.cache import cache

from fleet.models import ApiToken
from tests.factories import make_token
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


@pytest.fixture
def call_as(db, client):
    """Makes a caller in the named group, at the sites of `owner`."""
    cache.clear()

    def caller(group="technician", *, owner=None, expires_on=None):
        number = ApiToken.objects.count() + 1
        token, secret = make_token(owner, group, name=f"Program {number} of {group}", last_day=expires_on)
        return Caller(client, secret, token)

    return caller


@pytest.fixture
def scene(db, tmp_path):
    return make_scene(tmp_path)
