"""What `tests/shipped_procedures.py` writes is what the action writes: the same rows, and journaled as the action's."""

import json
from datetime import timedelta

import pytest
from django.db import transaction

from fleet.acting.scope import outside_actions
from fleet.models import JournalEntry, JournalLink
from inspections.actions import load_procedures
from inspections.at_bench.procedure_files import DIRECTORY
from inspections.models import Procedure, ProcedureVersion
from tests import shipped_procedures
from tests.factories import NOON

LATER = NOON + timedelta(days=3)


def _by_the_action(at):
    return load_procedures(DIRECTORY, at=at)


@pytest.fixture(params=["first test of a process", "later test"])
def read(request, db, monkeypatch):
    """Whether a test of this process loaded the procedures before."""
    monkeypatch.setattr(shipped_procedures, "_read", [])
    if request.param == "later test":
        _undone(shipped_procedures.load, at=NOON)


def _undone(load, at):
    """What there is after `load` without procedures: what it returned, rows without keys, journal by table."""
    with transaction.atomic(), outside_actions():
        created = [version.digest for version in load(at)]
        rows = [_rows(Procedure), _rows(ProcedureVersion)]
        link = json.loads(JournalLink.objects.latest("sequence").content)
        entries = JournalEntry.objects.order_by("pk").values_list("table", flat=True)
        transaction.set_rollback(True)
    return created, rows, link["action"], sorted(entries)


def _rows(model):
    keys = {"id", "procedure_id"}
    return [{name: value for name, value in row.items() if name not in keys} for row in model.objects.values()]


def test_what_is_written_is_what_the_action_writes(read):
    by_the_action = _undone(_by_the_action, at=LATER)
    assert _undone(shipped_procedures.load, at=LATER) == by_the_action
    assert len(by_the_action[0]) == len(by_the_action[1][1]) > 5


def test_a_version_belongs_to_its_procedure(read):
    for version in shipped_procedures.load(NOON):
        assert version.procedure.code == version.content["code"]
        assert version == version.procedure.versions.get()


def test_procedures_that_are_there_are_not_loaded_again(read):
    shipped_procedures.load(NOON)
    assert shipped_procedures.load(LATER) == []


def test_a_procedure_that_the_files_do_not_have_leaves_it_to_the_action(read):
    Procedure.objects.create(code="own", title="Own")
    assert len(shipped_procedures.load(NOON)) == Procedure.objects.count() - 1


def test_what_a_test_does_to_a_version_stays_in_that_test(read):
    shipped_procedures.load(NOON)[0].content["title"] = "Changed"
    ProcedureVersion.objects.all().delete()
    Procedure.objects.all().delete()
    assert "Changed" not in [version.content["title"] for version in shipped_procedures.load(NOON)]
