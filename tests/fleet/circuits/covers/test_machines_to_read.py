"""At night only those machines are read on whose records something changed; the journal says which."""

from datetime import timedelta

import pytest

from fleet.acting.scope import acting
from fleet.actions import record_feature_state
from fleet.circuits.covers import job
from fleet.models import CircuitReading, Component, FeatureState, Job, Machine, MachineCover, MachineModel, Site
from inspections.models import Inspection
from tests.factories import NOON, TODAY, make_inspection, make_machine

NIGHT = timedelta(days=1)


@pytest.fixture
def read(monkeypatch):
    """Keys of the machines whose records are read, one list for each run."""
    keys, circuits = [], job.circuits_as_measured

    def reading(machines, today):
        keys.extend(machine.pk for machine in machines)
        return circuits(machines, today)

    monkeypatch.setattr(job, "circuits_as_measured", reading)
    return keys


@pytest.fixture
def known(machines, covers, read):
    """Two machines that were read the night before."""
    covers()
    assert read == [machine.pk for machine in machines]
    read.clear()
    return machines


def test_machines_without_any_change_are_not_read_and_their_covers_are_of_today(known, covers, read):
    told = covers(at=NOON + NIGHT).result
    assert read == []
    assert told == (
        "2 machines checked, 0 circuits computed; the others were up to date. "
        "2 machines without any change were not read."
    )
    assert set(MachineCover.objects.values_list("on", "computed_at")) == {(TODAY + NIGHT, NOON + NIGHT)}


def _feature(machine):
    record_feature_state(machine, "flush-guard", "fitted", from_date=TODAY, evidence="seen", by=None, at=NOON)


def _component(machine):
    with acting("fit"):
        Component.objects.create(machine=machine, kind="gauge", label="Gauge", gas="oxygen", fitted_on=TODAY)


def _plate(machine):
    _component(machine)
    with acting("plate"):
        Component.objects.filter(machine=machine).update(rated={"set_output": [45, "psi"]})


def _inspection(machine):
    inspection = make_inspection(machine=machine)
    with acting("sign"):
        Inspection.objects.filter(pk=inspection.pk).update(note="Filter changed")


@pytest.mark.parametrize("change", [_feature, _component, _plate, _inspection])
def test_a_machine_on_whose_records_anything_was_written_is_read(change, known, covers, read):
    change(known[1])
    covers(at=NOON + NIGHT)
    assert read == [known[1].pk]
    covers(at=NOON + 2 * NIGHT)
    assert read == [known[1].pk], "once"


@pytest.mark.parametrize("which", ["site", "model"])
def test_all_machines_of_a_model_or_a_site_that_was_written_are_read(which, known, covers, read):
    elsewhere = make_machine(asset_number="D-1")
    covers()
    read.clear()
    with acting("change"):
        if which == "site":
            Site.objects.filter(pk=known[0].site.pk).update(altitude_m=1500)
        else:
            MachineModel.objects.filter(pk=known[0].model.pk).update(circuit="")
    covers(at=NOON + NIGHT)
    assert read == [machine.pk for machine in known] and elsewhere.pk not in read


def test_a_new_machine_is_read(known, covers, read):
    new = make_machine(model=known[0].model, area=known[0].area, asset_number="A-1")
    covers(at=NOON + NIGHT)
    assert read == [new.pk]


def test_a_machine_without_a_cover_is_read_and_one_whose_circuit_cannot_be_computed_is_not(known, covers, read):
    broken = make_machine(asset_number="A-1")
    covers(at=NOON + NIGHT)
    MachineCover.objects.filter(machine=known[0]).delete()
    read.clear()
    told = covers(at=NOON + 2 * NIGHT).result
    assert read == [known[0].pk] and "1 machine without a circuit that can be computed" in told
    assert MachineCover.objects.get(machine=broken).on == TODAY + 2 * NIGHT


def test_a_record_that_begins_later_is_read_on_that_day(machines, covers, read):
    begins = {"feature": "flush-guard", "state": "fitted", "from_date": TODAY + 5 * NIGHT, "recorded_at": NOON}
    FeatureState.objects.create(machine=machines[0], **begins)
    covers()
    read.clear()
    covers(at=NOON + 3 * NIGHT)
    assert read == []
    covers(at=NOON + 5 * NIGHT)
    assert read == [machines[0].pk]


@pytest.mark.parametrize("rules", ["record_rules", "rules"])
def test_another_program_reads_every_machine(rules, known, covers, read, monkeypatch):
    monkeypatch.setattr(f"fleet.circuits.covers.machines_to_read.{rules}", lambda: "f" * 64)
    covers(at=NOON + NIGHT)
    assert read == [machine.pk for machine in known]


def test_after_a_row_was_removed_every_machine_is_read(known, covers, read):
    _component(known[0])
    covers()
    read.clear()
    with acting("remove"):
        Component.objects.get(machine=known[0]).delete()
    covers(at=NOON + NIGHT)
    assert read == [machine.pk for machine in known]


def test_a_run_for_one_site_or_one_machine_says_nothing_of_the_others(known, covers, read):
    _feature(known[1])
    covers(machine=known[0].pk, at=NOON + NIGHT)
    assert read == [known[0].pk], "it is read although nothing changed: somebody asked for it"
    assert CircuitReading.objects.get().day == TODAY
    read.clear()
    covers(at=NOON + 2 * NIGHT)
    assert read == [known[1].pk]


def test_a_run_that_ended_early_is_made_up_for_by_the_next(known, covers, read, monkeypatch):
    _feature(known[0])

    def dies(*args, **kwargs):
        raise KeyboardInterrupt

    with monkeypatch.context() as patch, pytest.raises(KeyboardInterrupt):
        patch.setattr(job, "keep_machine_covers", dies)
        covers(at=NOON + NIGHT)
    Job.objects.all().delete()
    read.clear()
    covers(at=NOON + 2 * NIGHT)
    assert read == [known[0].pk]


def test_of_a_fleet_without_changes_the_queries_do_not_grow(known, covers, django_assert_max_num_queries):
    with django_assert_max_num_queries(80) as two:
        covers(at=NOON + NIGHT)
    for number in range(8):
        make_machine(model=known[0].model, area=known[0].area, asset_number=f"D-{number}")
    covers(at=NOON + 2 * NIGHT)
    with django_assert_max_num_queries(80) as ten:
        covers(at=NOON + 3 * NIGHT)
    assert Machine.objects.count() == 10 and len(ten) == len(two)


@pytest.mark.real_journal
def test_the_journal_of_actions_in_use_tells_what_was_written(known, covers, read):
    _feature(known[1])
    covers(at=NOON + NIGHT)
    assert read == [known[1].pk]
