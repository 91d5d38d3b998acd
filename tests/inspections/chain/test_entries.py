"""The chain grows with every signature, countersignature and amendment, and verifies whatever was done."""

import json
from datetime import timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inspections.actions import amend_inspection, countersign_inspection
from inspections.errors import RecordFrozen, Refused
from inspections.models import ChainEntry, Inspection
from inspections.records.content import digest_of
from tests.factories import NOON
from tests.inspections.chain.store import sign, troubles
from tests.inspections.scenes import FAILING, PASSING

LATER = NOON + timedelta(days=2)


def numbers(site):
    return list(ChainEntry.objects.filter(site=site).values_list("sequence", "kind"))


def test_each_entry_holds_the_digest_of_the_one_before_at_its_site(store):
    entries = list(ChainEntry.objects.filter(site=store.site))
    assert [entry.sequence for entry in entries] == [1, 2, 3, 4, 5]
    assert [entry.kind for entry in entries] == ["signed", "countersigned", "amended", "amended", "signed"]
    assert [entry.previous for entry in entries] == ["0" * 64, *(digest_of(entry.content) for entry in entries[:-1])]
    assert json.loads(entries[1].content)["previous"] == entries[1].previous
    assert numbers(store.elsewhere.machine.site) == [(1, "signed")]
    assert troubles() == []


def test_the_entry_names_the_digest_of_the_record(store):
    record = store.records[0].record
    entry = ChainEntry.objects.get(inspection=record.inspection, kind="signed")
    assert json.loads(entry.content)["record"]["digest"] == record.digest == digest_of(record.content)


def test_an_entry_cannot_be_saved_again(store):
    with pytest.raises(RecordFrozen, match="cannot be changed"):
        ChainEntry.objects.first().save()


def test_a_refused_signature_adds_nothing(store):
    with pytest.raises(Refused):
        countersign_inspection(store.records[1], by=store.records[1].signed_by, at=LATER)
    with pytest.raises(Refused):
        amend_inspection(store.records[1], correction="", reason="", by=store.scene.other, at=LATER)
    assert len(numbers(store.site)) == 5 and troubles() == []


def test_a_record_whose_machine_moved_is_countersigned_in_the_chain_that_holds_it(store):
    record = store.records[1]
    record.machine.area = store.elsewhere.machine.area
    record.machine.save(update_fields=["area"])
    countersign_inspection(record, by=store.scene.other, at=LATER)
    assert numbers(store.site)[-1] == (6, "countersigned") and troubles() == []


WORK = st.lists(st.sampled_from(["sign", "fail", "countersign", "amend", "correct"]), min_size=1, max_size=6)


@settings(max_examples=6, suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(work=WORK)
def test_whatever_is_done_in_which_order_verifies(store, work):
    for number, act in enumerate(work):
        at = LATER + timedelta(days=number, seconds=ChainEntry.objects.count())
        newest = Inspection.objects.signed().filter(machine=store.scene.machine).latest("pk")
        if act in ("sign", "fail"):
            store.scene.again(at=at)
            sign(store.scene, at, PASSING if act == "sign" else FAILING)
        elif act == "countersign" and newest.stage == "signed":
            countersign_inspection(newest, by=store.scene.other, at=at)
        elif act == "amend":
            amend_inspection(newest, correction="é “a”", reason="b", by=store.scene.other, at=at)
        elif act == "correct":
            with pytest.raises(RecordFrozen):
                store.scene.enter("set_flow", "3.9", unit="L/min", instrument=store.scene.flowmeter, at=at)
    assert troubles() == []
