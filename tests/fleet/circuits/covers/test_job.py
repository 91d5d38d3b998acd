"""Every circuit is computed in the background: once each, safe to repeat, to cancel and to kill."""

from datetime import timedelta

import pytest

from fleet.actions import cancel_job, record_feature_state, request_job, retire_machine
from fleet.circuit.solution import NoSolution
from fleet.circuits.covers import computing
from fleet.circuits.covers.job import CIRCUIT_COVER
from fleet.circuits.covers.rows_in_words import read_table
from fleet.circuits.covers.storing import remove_unused_covers
from fleet.jobs.periodic import request_due_jobs
from fleet.jobs.running import run_waiting_job
from fleet.models import CircuitCover, Job, MachineCover
from inspections.models import Finding
from tests.factories import NOON, TODAY, make_machine, make_model, make_person
from tests.fleet.circuit_texts import SMALL
from tests.fleet.circuits.covers.conftest import remembered

LATER = NOON + timedelta(days=1)


@pytest.fixture
def computed(monkeypatch):
    """Titles of the circuits whose tables are computed, one entry each time."""
    titles = []

    def counted(circuit, tell=None):
        titles.append(circuit.title)
        return remembered(circuit, tell)

    monkeypatch.setattr("fleet.circuits.covers.storing.compute", counted)
    return titles


def test_machines_that_share_a_circuit_share_a_table_that_is_computed_once(machines, covers, computed):
    ended = covers()
    assert ended.stage == "done"
    assert ended.result == "2 machines checked, 1 circuit computed; the others were up to date."
    assert len(computed) == 1 and CircuitCover.objects.count() == 1
    kept = MachineCover.objects.get(machine=machines[0])
    assert (kept.on, kept.computed_at, kept.basis) == (TODAY, NOON, "as its model was built")
    table = read_table(kept.cover)
    assert table.causes == kept.cover.causes > 20
    assert {row.hazard: row.open for row in kept.cover.hazards.all()} == {
        code: sum(row.hazard == code and row.status == "open" for row in table.first_rows)
        for code in {row.hazard for row in table.first_rows}
    }
    assert table.latent_rows  # not counted: there two things have failed


def test_asked_again_it_computes_nothing_that_is_known(machines, covers, computed):
    covers()
    assert covers(at=LATER).result.startswith("2 machines checked, 0 circuits computed")
    assert len(computed) == 1
    assert set(MachineCover.objects.values_list("computed_at", flat=True)) == {LATER}


def test_another_program_computes_it_anew_and_leaves_no_second_row(machines, covers, computed, monkeypatch):
    covers()
    for module in ("storing", "machines_to_read"):
        monkeypatch.setattr(f"fleet.circuits.covers.{module}.rules", lambda: "f" * 64)
    covers(at=LATER)
    assert len(computed) == 2
    assert CircuitCover.objects.get().rules == "f" * 64


def test_a_protection_that_matters_gives_the_machine_a_table_of_its_own(machines, covers):
    covers()
    record_feature_state(
        machines[0], "dial-anticlockwise", "fitted", from_date=TODAY, evidence="seen", by=None, at=NOON
    )
    assert "1 circuit computed" in covers(at=LATER).result
    one, other = (MachineCover.objects.get(machine=machine) for machine in machines)
    assert one.cover != other.cover and CircuitCover.objects.count() == 2


def test_a_machine_without_a_circuit_is_told_with_the_reason(covers, db):
    make_machine(asset_number="B-1")
    broken = SMALL.replace('{ from = "oxygen-inlet.out", to = "oxygen-control.in" },', "")
    make_machine(asset_number="B-2", model=make_model(circuit=broken))
    assert "2 machines without a circuit that can be computed" in covers().result
    none, dangling = MachineCover.objects.order_by("machine__asset_number")
    assert "no circuit is recorded" in none.reason.lower() and "control" in dangling.reason.lower()
    assert (none.cover, dangling.cover) == (None, None)


def test_a_circuit_without_a_steady_flow_is_told_and_stops_no_other_machine(machines, covers, monkeypatch):
    def fails(circuit, tell=None):
        raise NoSolution("At the outlet what comes and what leaves differ.")

    monkeypatch.setattr("fleet.circuits.covers.storing.compute", fails)
    ended = covers()
    assert ended.stage == "done"
    assert {cover.reason for cover in MachineCover.objects.all()} == {
        "The circuit has no steady flow in ordinary use. At the outlet what comes and what leaves differ."
    }


def test_retired_machines_and_other_sites_are_left_out(machines, model, site, covers):
    elsewhere, gone = make_machine(model=model), make_machine(model=model, area=machines[0].area)
    retire_machine(gone, by=None, at=NOON, reason="Worn out")
    covers(site=site.pk)
    assert set(MachineCover.objects.values_list("machine", flat=True)) == {machine.pk for machine in machines}
    covers(by=make_person("planner", sites=[elsewhere.site]))
    assert MachineCover.objects.count() == 3


def test_of_one_machine_it_looks_at_that_one(machines, covers):
    assert covers(machine=machines[1].pk).link == f"/machines/{machines[1].pk}/cover/"
    assert MachineCover.objects.get().machine == machines[1]


def test_cancelled_in_the_middle_of_a_table_it_keeps_what_was_done(machines, covers, monkeypatch):
    other = make_model(circuit=SMALL.replace("[25, ", "[22, "))
    last = make_machine(model=other, asset_number="C-3")
    asked = request_job(CIRCUIT_COVER, title="Circuits", params={}, by=None, at=NOON)

    def cancelled(circuit, tell=None, compute=computing.compute):
        if circuit.component("cut-off-valve").values["cut_pressure"] < 160e3:
            cancel_job(asked, by=None, at=NOON)
        return compute(circuit, tell)

    monkeypatch.setattr("fleet.circuits.covers.storing.compute", cancelled)
    assert run_waiting_job(asked.pk, clock=lambda: NOON, pulse=False) == "cancelled"
    assert not MachineCover.objects.filter(machine=last).exists() and CircuitCover.objects.count() == 1


def test_killed_after_a_table_was_kept_the_next_run_goes_on_from_there(machines, covers, computed, monkeypatch):
    def dies(*args, **kwargs):
        raise KeyboardInterrupt

    monkeypatch.setattr("fleet.circuits.covers.job.keep_machine_covers", dies)
    with pytest.raises(KeyboardInterrupt):
        covers()
    monkeypatch.undo()
    Job.objects.all().delete()
    covers(at=LATER)
    assert CircuitCover.objects.count() == 1 and MachineCover.objects.count() == 2
    assert CircuitCover.objects.get().computed_at == NOON, "the table that was kept before is not computed again"


def test_it_tells_how_far_it_is_within_a_table_too(machines, covers, monkeypatch):
    monkeypatch.setattr("fleet.circuits.covers.storing.compute", computing.compute)
    told = []

    def clock():
        told.append(Job.objects.filter(kind=CIRCUIT_COVER).values_list("words", flat=True).first())
        return NOON

    covers(clock=clock)
    assert any(words and "C-1: " in words and " causes" in words for words in told)


def test_it_runs_by_itself_every_night(db):
    request_due_jobs(at=NOON)
    asked = Job.objects.get(kind=CIRCUIT_COVER)
    assert (asked.due_on, asked.by) == (TODAY, None)


def test_what_circuit_and_record_disagree_about_becomes_a_finding_and_goes_with_it(machines, covers):
    machine = machines[0]
    state = {"from_date": TODAY, "evidence": "seen", "by": None}
    record_feature_state(machine, "ratio-protection", "fitted", at=NOON, **state)
    covers()
    found = Finding.objects.get(machine=machine)
    assert (found.origin, found.is_open) == ("circuit", True)
    assert found.title.startswith("Minimum oxygen ratio protection: recorded as fitted")
    covers(at=NOON + timedelta(hours=1))
    assert Finding.objects.get(machine=machine).is_open
    record_feature_state(machine, "ratio-protection", "not fitted", at=NOON, **state)
    covers(at=LATER)
    assert not Finding.objects.get(machine=machine).is_open


def test_tables_that_no_machine_has_go_after_a_while(machines, covers):
    covers()
    record_feature_state(machines[0], "pin-index", "not fitted", from_date=TODAY, evidence="seen", by=None, at=NOON)
    MachineCover.objects.all().delete()
    assert remove_unused_covers(before=NOON) == 0
    assert remove_unused_covers(before=LATER) == 1
    assert not CircuitCover.objects.exists()


def test_the_queries_of_known_machines_grow_by_a_fixed_number_each(
    machines, model, covers, django_assert_max_num_queries
):
    covers()
    with django_assert_max_num_queries(60) as two:
        covers(at=LATER)
    for number in range(8):
        make_machine(model=model, area=machines[0].area, asset_number=f"D-{number}")
    covers(at=LATER)
    with django_assert_max_num_queries(200) as ten:
        covers(at=LATER + timedelta(days=1))
    each = (len(ten.captured_queries) - len(two.captured_queries)) / 8
    assert each <= 15
