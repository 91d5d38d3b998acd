"""The daily plan and the loading of procedures, in this process and through a real worker."""

import pytest
from celery import Celery
from django.core.management import CommandError, call_command

from inspections.models import Inspection, Procedure, ProcedureVersion
from inspections.tasks import plan_due
from tests.factories import load_all_procedures, make_machine
from tests.services.bobbin import manage

PUT_A_MACHINE = """
from datetime import date
from tests.factories import make_machine
make_machine(in_use_from=date(2015, 1, 1))
"""


@pytest.fixture
def procedures(db):
    load_all_procedures()
    return Procedure.objects.exclude(interval_months=None)


def test_the_plan_runs_in_this_process_when_there_is_no_broker(procedures):
    make_machine()
    assert plan_due.delay().get() == procedures.count()


def test_the_plan_is_safe_to_repeat(procedures):
    make_machine()
    plan_due()
    assert plan_due() == 0
    assert Inspection.objects.count() == procedures.count()


def test_the_command_says_how_many_were_planned(procedures, capsys):
    make_machine()
    call_command("plan_due")
    assert capsys.readouterr().out == f"{procedures.count()} inspections planned.\n"


def test_a_worker_plans_through_redis_and_plans_nothing_twice(installation, worker):
    manage("load_procedures", **installation)
    manage("shell", "-v", "0", "-c", PUT_A_MACHINE, **installation)
    app = Celery(broker=installation["REDIS_URL"], backend=installation["REDIS_URL"])
    first, second = (app.send_task("inspections.tasks.plan_due").get(timeout=30) for _ in range(2))
    assert first >= 2 and second == 0
    shown = manage("plan_due", **installation).stdout
    assert shown == "0 inspections planned.\n"


def test_loading_prints_what_is_new_and_nothing_the_second_time(db, capsys):
    call_command("load_procedures")
    told = capsys.readouterr().out
    assert "New: Yearly inspection, version 1\n" in told
    call_command("load_procedures")
    assert capsys.readouterr().out == "0 new versions, the rest unchanged.\n"
    assert ProcedureVersion.objects.count() == told.count("New: ")


def test_a_procedure_that_cannot_be_loaded_ends_the_command_with_the_reason(db, tmp_path):
    (tmp_path / "bad.toml").write_text('code = "bad"', encoding="utf-8")
    with pytest.raises(CommandError, match="bad.toml: step, title is missing"):
        call_command("load_procedures", str(tmp_path))
