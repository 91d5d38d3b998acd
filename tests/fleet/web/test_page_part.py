"""htmx gets the section it asks for; whoever restores a page from history gets the page, and no cache mixes them up."""

import pytest
from django.urls import reverse

from fleet.actions import request_job
from tests.factories import NOON, make_machine, make_model, make_person
from tests.test_rooms import ROOT, modules

HTMX = {"HX-Request": "true"}


@pytest.fixture
def addresses(db):
    chief = make_person("planner-in-chief")
    job, model = request_job("plan-due", title="Plan", params={}, by=chief, at=NOON), make_model()
    pages = [("fleet:machines",), ("fleet:jobs",), ("fleet:job", job.pk), ("fleet:model_circuit", model.pk)]
    pages.append(("fleet:machine_circuit", make_machine(model=model).pk))
    return chief, [reverse(name, args=args) for name, *args in pages]


def test_every_page_with_a_section_of_its_own_gives_both(client, addresses):
    chief, pages = addresses
    client.force_login(chief)
    for page in pages:
        whole, part = client.get(page), client.get(page, headers=HTMX)
        restored = client.get(page, headers={**HTMX, "HX-History-Restore-Request": "true"})
        assert all("HX-Request" in answer["Vary"] for answer in (whole, part, restored)), page
        assert ["<html" in answer.content.decode() for answer in (whole, part, restored)] == [True, False, True], page


def test_no_other_module_decides_it():
    reading = [name for name in modules() if "request.htmx" in (ROOT / f"{name}.py").read_text()]
    assert sorted(reading) == [
        "config/accounts/middleware",
        "fleet/web/page_part",
    ]  # the middleware answers who is signed out
