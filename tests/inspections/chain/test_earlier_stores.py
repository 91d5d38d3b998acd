"""Stores from before the chain, and entries from before a table was frozen, verify and tell what was altered since."""

import importlib
import json
from datetime import timedelta
from types import SimpleNamespace

import pytest
from django.apps import apps
from django.db import connection

from inspections.actions import countersign_inspection
from inspections.chain import rows
from inspections.chain.verification import verify_inspection, verify_store
from inspections.models import (
    ChainEntry,
    ChainHead,
    Photograph,
    Reading,
    ReadingQuestion,
    Replacement,
    StepRemark,
)
from tests.factories import NOON
from tests.fleet.photographs.pictures import clean_picture
from tests.inspections.chain.store import troubles
from tests.inspections.chain.test_entries import numbers

LATER = NOON + timedelta(days=2)
RENAMED = {"Outcome": "Result"}  # models that the migration calls by their earlier names


def chain_later():
    """Take the chain away and chain what is there, as an upgrade from a release without a chain does."""
    ChainEntry.objects.all().delete()
    ChainHead.objects.all().delete()
    for later in (Replacement, ReadingQuestion):  # tables that came after the chain
        later.objects.all().delete()
    migration = importlib.import_module("inspections.migrations.0007_chain_existing")
    older = SimpleNamespace(get_model=lambda app, name: apps.get_model(app, RENAMED.get(name, name)))
    migration.chain_existing(older, SimpleNamespace(connection=connection))


def test_records_from_before_the_chain_are_chained_in_the_order_of_time(older_store):
    before = numbers(older_store.site)
    chain_later()
    assert numbers(older_store.site) == before and troubles() == []
    assert all(json.loads(entry.content)["chained_later"] for entry in ChainEntry.objects.all())
    countersign_inspection(older_store.records[1], by=older_store.scene.other, at=LATER)
    assert troubles() == []


def test_a_row_altered_before_it_was_chained_shows_against_its_record(older_store):
    Reading.objects.filter(step__inspection=older_store.records[1], as_read="40").update(as_read="41")
    chain_later()
    [trouble] = troubles()
    assert (trouble.inspection, trouble.field, trouble.expected, trouble.found) == (
        older_store.records[1].pk, "as_read", "40", "41",
    )  # fmt: skip
    assert "before it was chained" in trouble.what


@pytest.mark.parametrize("table", ["remark", "photograph"])
def test_an_entry_from_before_a_table_verifies_and_a_row_slipped_in_since_is_found(scene, table, monkeypatch):
    monkeypatch.delitem(rows.FROZEN, table)
    monkeypatch.setitem(rows.FROZEN, "inspection", tuple(c for c in rows.FROZEN["inspection"] if c != "minutes"))
    scene.complete()
    signed = scene.sign()
    monkeypatch.undo()
    assert list(verify_store()) == []
    step, who = scene.step(), {"by": scene.technician, "at": NOON}
    late = StepRemark(step=step, text="Late", **who)
    late = late if table == "remark" else Photograph.of_clean(clean_picture(), step=step, **who)
    type(late).objects.bulk_create([late])
    found = list(verify_inspection(signed))
    assert [one.kind for one in found] == ["inserted"] and table in found[0].what
