"""Machines with a small circuit, whose cover takes a fraction of a second."""

import pytest

from fleet.altering.job import request_effects
from fleet.jobs.running import run_waiting_job
from tests.factories import NOON, make_area, make_machine, make_model, make_person, make_site
from tests.fleet.circuit_texts import SMALL
from tests.fleet.circuits.covers.conftest import remembered


@pytest.fixture(autouse=True)
def quick(monkeypatch):
    monkeypatch.setattr("fleet.circuits.covers.storing.compute", remembered)


@pytest.fixture
def machines(db):
    area = make_area(make_site(name="North"))
    model = make_model(circuit=SMALL)
    return [make_machine(model=model, area=area, asset_number=f"C-{n}") for n in (1, 2)]


@pytest.fixture
def planner(client, db):
    person = make_person("planner")
    client.force_login(person)
    return person


def run_effects(plan, by=None, at=NOON):
    """Request the job and run it; return it as it ended."""
    job = request_effects(plan, by=by or make_person("planner"), at=at)
    run_waiting_job(job.pk, clock=lambda: at, pulse=False)
    job.refresh_from_db()
    return job
