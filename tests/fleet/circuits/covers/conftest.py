"""A model with a small circuit, whose cover takes a fraction of a second, and machines of it."""

import pytest

from fleet.actions import request_job
from fleet.circuit.digest import circuit_digest
from fleet.circuits.covers.computing import compute
from fleet.circuits.covers.job import CIRCUIT_COVER
from fleet.jobs.running import run_waiting_job
from tests.factories import NOON, make_area, make_machine, make_model, make_site
from tests.fleet.circuit_texts import SMALL

_known = {}


def remembered(circuit, tell=None):
    """Compute each circuit once for all tests: the same circuit gives the same cover."""
    digest = circuit_digest(circuit)
    if digest not in _known:
        _known[digest] = compute(circuit, tell)
    return _known[digest]


@pytest.fixture(autouse=True)
def quick(monkeypatch, settings):
    settings.EVALUATION_PROCESSES = 1
    monkeypatch.setattr("fleet.circuits.covers.storing.compute", remembered)


@pytest.fixture
def model(db):
    return make_model(circuit=SMALL, features={"pin-index": "fitted"})


@pytest.fixture
def site(db):
    return make_site(name="North")


@pytest.fixture
def machines(model, site):
    area = make_area(site)
    return [make_machine(model=model, area=area, asset_number=f"C-{n}") for n in (1, 2)]


def run_covers(by=None, at=NOON, clock=None, **params):
    """Request the job and run it; return it as it ended."""
    job = request_job(CIRCUIT_COVER, title="Circuits", params=params, by=by, at=at)
    run_waiting_job(job.pk, clock=clock or (lambda: at), pulse=False)
    job.refresh_from_db()
    return job


@pytest.fixture
def covers():
    return run_covers
