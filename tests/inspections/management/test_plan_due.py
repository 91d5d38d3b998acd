"""The commands that plan what falls due and load procedures."""

import pytest
from django.core.management import CommandError, call_command

from inspections.models import Inspection, Procedure, ProcedureVersion
from tests.factories import load_all_procedures, make_machine


@pytest.fixture
def procedures(db):
    load_all_procedures()
    return Procedure.objects.exclude(interval_months=None)


def test_the_plan_is_safe_to_repeat_and_says_how_many_were_planned(procedures, capsys):
    make_machine()
    for _ in range(2):
        call_command("plan_due")
    assert capsys.readouterr().out == f"{procedures.count()} inspections planned.\n0 inspections planned.\n"
    assert Inspection.objects.count() == procedures.count()


def test_loading_prints_what_is_new_and_nothing_the_second_time(db, capsys):
    call_command("load_procedures")
    told = capsys.readouterr().out
    assert "New: Yearly inspection, version 1\n" in told
    call_command("load_procedures")
    assert capsys.readouterr().out == "0 new versions, the others unchanged.\n"
    assert ProcedureVersion.objects.count() == told.count("New: ")


def test_a_procedure_that_cannot_be_loaded_ends_the_command_with_the_reason(db, tmp_path):
    (tmp_path / "bad.toml").write_text('code = "bad"', encoding="utf-8")
    with pytest.raises(CommandError, match="bad.toml: step, title is missing"):
        call_command("load_procedures", str(tmp_path))
