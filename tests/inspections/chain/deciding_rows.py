"""A store with a row in every table that the journal covers."""

from datetime import date, timedelta

from django.contrib.auth.models import Group

from fleet.acting.scope import settle
from fleet.actions import add_token, copy_circuits, withdraw_machine
from fleet.models import EarlierInspection
from inspections.actions import (
    begin_draft,
    judge_criterion,
    plan_retest,
    record_attempt,
    report_fault,
    set_limit_override,
)
from inspections.procedure_editing.step_edits import empty_procedure
from inspections.proposals import Closing, decide
from tests.factories import (
    NOON,
    TODAY,
    confirm_first_limit,
    load_all_procedures,
    make_machine,
    make_model,
    make_person,
    make_site,
)
from tests.fleet.circuit_texts import SMALL
from tests.inspections.calendar_runs import make_calendar_rows
from tests.inspections.chain.programme_rows import make_programme_rows
from tests.inspections.chain.store import make_store
from tests.inspections.label_page.rows import make_label_rows
from tests.passkeys import give_passkey


def make_deciding_rows(directory):
    """The store of signatures, and beside it what decides: status, circuit, limits, rights, findings and so on."""
    store = make_store(directory)
    load_all_procedures()
    by = make_person("planner", sites=[make_site()])
    machine = make_machine(model=make_model(circuit=SMALL, features={"o2-analyser": "fitted"}), by=by)
    copy_circuits([machine], by=by, at=NOON)
    finding = report_fault(machine, title="Sticks", severity="essential", by=by, at=NOON)
    withdraw_machine(machine, by=by, at=NOON, reason="Sticks")
    retest = plan_retest(machine, [finding], due_on=TODAY, by=by, at=NOON)
    record_attempt(retest, kind="in use", by=by, at=NOON)
    report_fault(machine, title="Squeaks", severity="other", by=by, at=NOON)
    in_service = report_fault(make_machine(by=by), title="Leaks", severity="essential", by=by, at=NOON)
    decide(Closing(in_service), reason="No leak was found.", by=by, at=NOON)
    judge_criterion(machine, "A1", answer="met", reason="No parts", by=by, at=NOON)
    set_limit_override(
        test_code="supply-failure", result_key="trip_pressure", lower=26.0, unit="psi", reason="Local",
        source="A manual, page 3",
        from_date=TODAY, site=machine.site, by=by, at=NOON,
    )  # fmt: skip
    confirm_first_limit(machine.site, by=by, at=NOON)
    add_token(
        name="Stores", owner=by, group=Group.objects.get(name="planner"), expires_on=TODAY + timedelta(days=30), by=by,
        at=NOON, today=TODAY,
    )  # fmt: skip
    EarlierInspection.objects.create(
        machine=machine, done_on=date(2025, 1, 1), procedure="Yearly", source="old.csv", by=by, recorded_at=NOON
    )
    make_label_rows(make_machine(by=by), by, "Label")
    begin_draft(empty_procedure("monthly", "Monthly check"), by=by, at=NOON)
    give_passkey(by)
    make_calendar_rows(machine, by)
    make_programme_rows(machine, make_machine(by=by), by)
    later = NOON + timedelta(days=2)
    store.scene.again(at=later)
    store.scene.leave_untested("flush", "No flowmeter", at=later)
    store.scene.leave_untested("flush", "", at=later)
    settle()
    return store
