"""What is typed into a field for passwords is stored nowhere and logged nowhere, whichever form asks for it."""

import importlib
import logging
import pkgutil
import re
from html import unescape
from types import SimpleNamespace

import pytest
from axes.models import AccessAttempt
from django import forms
from django.apps import apps
from django.contrib.auth.forms import AuthenticationForm
from django.db import connection
from django.test import Client
from django.urls import reverse

import config
import fleet
import inspections
from config.accounts.middleware import NOT_KEPT
from fleet.actions import add_token, password_link
from fleet.models import Machine
from inspections.actions import report_fault
from inspections.models import Inspection
from tests.factories import NOON, PASSWORD, make_person
from tests.matrix.addresses import all_addresses
from tests.matrix.scene import make_scene, person_of_every_group

CONTROL = re.compile(r"<(?:input|textarea|select)\b[^>]*>")
ATTRIBUTE = re.compile(r'\b([\w-]+)="([^"]*)"')


def password_forms():
    """Every form class of Bobbin, and those of Django that its pages use, with the names of its password fields."""
    for package in (config, fleet, inspections):
        for module in pkgutil.walk_packages(package.__path__, f"{package.__name__}."):
            if ".forms" in module.name or ".accounts" in module.name:
                importlib.import_module(module.name)
    own = [one for one in _below(forms.BaseForm) if one.__module__.split(".")[0] in ("config", "fleet", "inspections")]
    found = {one: _secret_fields(one) for one in [*own, AuthenticationForm]}
    return {one: names for one, names in found.items() if names}


def _below(kind):
    for one in kind.__subclasses__():
        yield one
        yield from _below(one)


def _secret_fields(form):
    return [name for name, field in form.base_fields.items() if isinstance(field.widget, forms.PasswordInput)]


def stored_text():
    """Every value of every table, as one text."""
    with connection.cursor() as cursor:
        told = []
        for table in connection.introspection.table_names(cursor):
            cursor.execute(f"SELECT * FROM {connection.ops.quote_name(table)}")
            told += [f"{table}: {row}" for row in cursor.fetchall()]
    return "\n".join(told)


def controls(page):
    """The names and types of what a page's forms can send."""
    return [dict(ATTRIBUTE.findall(unescape(control))) for control in CONTROL.findall(page)]


@pytest.fixture
def bound(monkeypatch):
    """The form classes that were given something to check."""
    found, clean = set(), forms.BaseForm.full_clean

    def full_clean(form):
        if form.is_bound:
            found.add(type(form))
        return clean(form)

    monkeypatch.setattr(forms.BaseForm, "full_clean", full_clean)
    return found


@pytest.fixture
def addresses(db):
    """Every address with its visitor: a person who is signed in, and nobody."""
    scene = make_scene()
    person = person_of_every_group(username="ana")
    group, today = person.groups.get(name="technician"), NOON.date()
    token = add_token(name="Logger", owner=person, group=group, expires_on=today, by=None, at=NOON, today=today)
    scene.values["tokens/"] = {"pk": token.pk}
    scene.values["password/"] = password_link(make_person(username="rui"), by=None, at=NOON)
    signed_in = Client()
    signed_in.force_login(person)
    person.totpdevice_set.create(name="app", confirmed=True)  # one to remove
    pages = [address for address in all_addresses() if not address.is_api]
    asked = [(client, reverse(a.name, kwargs=scene.values_of(a))) for a in pages for client in (signed_in, Client())]
    machine = Machine.objects.get(pk=scene.values["machines/"]["pk"])
    finding = report_fault(machine, title="Sticks", severity="essential", by=person, at=NOON)
    return [*asked, (signed_in, reverse("inspections:finding_close", args=[finding.pk]))]


@pytest.fixture
def hidden(addresses):
    """The pages that show their form only when nothing is missing, with what else it sends: to release and to sign."""
    retest, unsigned = Inspection.objects.signed().first(), Inspection.objects.get(stage="on bench")
    release = reverse("inspections:release", args=[retest.machine_id]), {"retest": str(retest.pk), "reason": "x"}
    return [release, (reverse("inspections:sign", args=[unsigned.pk]), {"minutes": "5"})]


def test_no_form_leaves_a_secret_in_the_database_or_in_the_log(addresses, hidden, bound, caplog):
    caplog.set_level(logging.DEBUG)
    sent, stored = [], []
    for client, address in addresses:
        page, fields = form_at(client, address)
        secrets = [field["name"] for field in fields if field.get("type") == "password"]
        others = {field["name"]: field.get("value") or "x" for field in fields}
        for known in [{}, {"old_password": PASSWORD}] if secrets else []:
            typed = {name: f"Gh7-{len(sent)}-{number}-secret" for number, name in enumerate(secrets)}
            sent += typed.values()
            client.post(page, others | typed | {name: known[name] for name in known if name in secrets})
            text = stored_text()  # read each time: the right password resets the count
            stored += [secret for secret in typed.values() if secret in text]
    for address, named in hidden:
        sent.append(f"Gh7-{len(sent)}-hidden-secret")
        addresses[0][0].post(address, named | {"password": sent[-1]})
    stored += [secret for secret in sent if secret in stored_text()]
    logged = caplog.text + "".join(str(record.__dict__) for record in caplog.records)
    assert len(sent) > 15 and AccessAttempt.objects.exists()
    assert stored == []
    assert [secret for secret in sent if secret in logged] == []
    assert [one for one in password_forms() if not any(issubclass(tried, one) for tried in bound)] == []


def form_at(client, address):
    """Return the target and the fields of a page's form; None without one, and for the login instead."""
    answer = client.get(address, follow=True)
    page = answer.redirect_chain[-1][0] if answer.redirect_chain else address
    is_page = not answer.streaming and "html" in answer["Content-Type"]
    if not is_page or (page.startswith("/login/") and address != "/login/"):
        return page, []
    return page, [field for field in controls(answer.content.decode()) if "name" in field]


def test_a_password_typed_in_place_of_the_name_is_not_stored_either(db, client, caplog):
    caplog.set_level(logging.DEBUG)
    client.post("/login/?next=/machines/%3Fkey%3Dsecret-in-query", {"username": PASSWORD, "password": "ana"})
    assert AccessAttempt.objects.count() == 1
    for secret in (PASSWORD, "secret-in-query"):
        assert secret not in stored_text() and secret not in caplog.text


def test_what_was_stored_of_earlier_attempts_is_wiped_by_the_migration(db):
    AccessAttempt.objects.create(username="ana", failures_since_start=1)
    AccessAttempt.objects.update(post_data="new_password1=in-the-clear", get_data="x=1")
    wipe = importlib.import_module("fleet.migrations.0020_forget_what_was_sent").forget_what_was_sent
    wipe(apps, SimpleNamespace(connection=connection))
    assert set(AccessAttempt.objects.values_list("post_data", "get_data")) == {("", "")}


def test_a_form_sent_after_the_session_ended_keeps_no_secret_of_any_form(db, client):
    names = {name for found in password_forms().values() for name in found}
    assert names >= {"password", "old_password", "new_password1"}
    page = client.post("/machines/1/fault/", {name: f"secret-{name}" for name in names} | {"title": "Leaks"})
    assert "Leaks" in page.content.decode() and "secret-" not in page.content.decode()
    assert all(NOT_KEPT.fullmatch(name) for name in names)
