"""Every page complies with the content security policy: the browser reports what it refuses on each."""

import pytest
from django.test import Client
from django.urls import get_resolver

from fleet.models import Person
from tests.factories import NOON
from tests.inspections.scenes import make_scene

LEAVES = ("login", "logout")


def addresses(patterns, before=""):
    """Yield every address that needs no argument, but those that end a session."""
    for pattern in patterns:
        route = before + str(pattern.pattern)
        if hasattr(pattern, "url_patterns"):
            yield from addresses(pattern.url_patterns, route)
        elif "<" not in route and "(" not in route and pattern.name not in LEAVES:
            yield f"/{route}"


@pytest.fixture
def scene(transactional_db, tmp_path):
    return make_scene(tmp_path, at=NOON)


def test_no_page_holds_what_the_policy_forbids(browser_page, log_in, scene):
    person = Person.objects.create_superuser("all-seeing")
    machine = scene.inspection.machine
    objects = [machine, machine.model, scene.inspection]
    paths = [one.get_absolute_url() for one in objects] + [scene.step_url, *addresses(get_resolver().url_patterns)]
    client = Client()
    client.force_login(person)
    pages = []
    for path in dict.fromkeys(paths):
        response = client.get(path)
        if response.status_code == 200 and response["Content-Type"].startswith("text/html"):
            pages.append(path)
    assert len(pages) > 20
    log_in(person)
    for path in pages:
        browser_page.goto(path, wait_until="load")
