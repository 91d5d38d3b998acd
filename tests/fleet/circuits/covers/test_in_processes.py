"""Covers of several circuits, computed in several processes: the same as in one, stored as they come."""

import pytest

from fleet.actions import cancel_job, request_job
from fleet.circuit.digest import circuit_digest
from fleet.circuit.files import read_circuit
from fleet.circuit.solution import NoSolution
from fleet.circuits.covers import computed_elsewhere, in_processes, storing
from fleet.circuits.covers.computed_elsewhere import compute_as_data
from fleet.circuits.covers.computing import compute
from fleet.circuits.covers.in_processes import computed_covers
from fleet.circuits.covers.job import CIRCUIT_COVER
from fleet.jobs.running import run_waiting_job
from fleet.models import CircuitCover, MachineCover
from tests.factories import NOON, make_machine, make_model
from tests.fleet.circuit.table_differences import differences
from tests.fleet.circuit_texts import SMALL

OTHERS = tuple(SMALL.replace("[25, ", f"[{psi}, ") for psi in (22, 19, 16))


def circuits():
    read = [read_circuit(text, title="Small") for text in (SMALL, *OTHERS)]
    return {circuit_digest(circuit): circuit for circuit in read}


@pytest.fixture
def fleet_of_four(db, settings):
    settings.EVALUATION_PROCESSES = 2
    models = [make_model(circuit=text, features={"pin-index": "fitted"}) for text in (SMALL, *OTHERS)]
    return [make_machine(model=model, asset_number=f"C-{n}") for n, model in enumerate(models)]


def test_each_circuit_has_what_is_computed_of_it_in_this_process(monkeypatch):
    asked, here = circuits(), []
    assert len(asked) == 4
    monkeypatch.setattr(in_processes, "compute", lambda circuit: here.append(circuit) or compute(circuit))
    found = dict(computed_covers(asked, processes=3))
    assert found.keys() == asked.keys() and len(here) < len(asked), "others computed some of them"
    for digest, circuit in asked.items():
        own = compute(circuit)
        assert list(differences(found[digest].table, own.table)) == []
        assert (found[digest].shown, found[digest].closing) == (own.shown, own.closing)


def test_what_another_process_does_not_answer_is_computed_here(monkeypatch, caplog):
    def broken(*_, **__):
        raise RuntimeError("ended")

    monkeypatch.setattr(in_processes, "run_confined", broken)
    asked = circuits()
    assert all(computed is not None for _, computed in computed_covers(asked, processes=2))
    assert "it is computed here" in caplog.text


def test_a_circuit_without_a_steady_flow_has_none_in_any_process(monkeypatch):
    def unsolved(*_):
        raise NoSolution("no steady flow")

    monkeypatch.setattr(computed_elsewhere, "compute", unsolved)
    monkeypatch.setattr(in_processes, "compute", unsolved)
    monkeypatch.setattr(in_processes, "run_confined", lambda _, *data, limits: compute_as_data(*data, ask=None))
    asked = circuits()
    assert dict(computed_covers(asked, processes=2)) == dict.fromkeys(asked)


def test_the_job_stores_every_table_and_counts_them(fleet_of_four, covers):
    ended = covers()
    assert ended.result == "4 machines checked, 4 circuits computed; the others were up to date."
    assert CircuitCover.objects.count() == 4 and MachineCover.objects.computed().count() == 4
    assert covers().result.startswith("4 machines checked, 0 circuits computed")


def test_with_one_process_the_job_starts_no_other(fleet_of_four, covers, settings, monkeypatch):
    settings.EVALUATION_PROCESSES = 1
    monkeypatch.setattr(in_processes, "run_confined", lambda *_, **__: 1 / 0)
    assert "4 circuits computed" in covers().result


def test_a_cancelled_job_keeps_the_tables_that_are_there(fleet_of_four, monkeypatch):
    asked = request_job(CIRCUIT_COVER, title="Circuits", params={}, by=None, at=NOON)

    def stored(*told, store=storing.store_cover):
        cancel_job(asked, by=None, at=NOON)
        return store(*told)

    monkeypatch.setattr("fleet.circuits.covers.job.store_cover", stored)
    assert run_waiting_job(asked.pk, clock=lambda: NOON, pulse=False) == "cancelled"
    assert 1 <= CircuitCover.objects.count() < 4 and not MachineCover.objects.exists()
