"""Sends the forms of a label's page as a browser without cookies does."""

import re

from django.test import Client
from django.urls import reverse

TOKEN = re.compile(r'name="ticket" value="([^"]+)"')
REPORT = {"what": "Flow drops", "where": "Theatre 2", "who": "Ana Ruiz"}
CHECK = {"by_name": "Ana Ruiz", "check_list": "our list", "result": "done", "note": ""}


def page(label):
    return label.get_absolute_url()


def fault(label):
    return reverse("inspections:label_fault", args=[label.code])


def check(label, kind="daily"):
    return reverse("inspections:label_check", args=[label.code, kind])


def token_at(address, **environ):
    return TOKEN.search(Client().get(address, **environ).content.decode())[1]


def send(address, data, *, token=None, **environ):
    """Return the answer to a form, with a token of its own unless one is given."""
    token = token_at(address, **environ) if token is None else token
    return Client().post(address, {**data, "ticket": token}, **environ)


def text_of(response):
    return response.content.decode()
