"""No action changes a row of a tracked record without an entry with who, when, before and after."""

import sys
from datetime import date, timedelta
from pathlib import Path
from types import SimpleNamespace

import pytest
from django.contrib.auth.models import Group

import fleet.actions
import inspections.actions
from fleet.acting.scope import acting, history
from fleet.actions import record_feature_state, withdraw_machine
from fleet.calibration.points import Point, ScalePoints
from fleet.changes import changes_of, tracked_models
from fleet.circuit.structure import Port
from fleet.imports import uploads
from fleet.models import ChangeEntry, JournalLink
from inspections.actions import choose_units, plan_inspection, report_fault
from inspections.chain.verification import verify_store
from tests.factories import (
    DEFAULT_SCALES,
    NOON,
    TODAY,
    confirm_first_limit,
    load_all_procedures,
    make_area,
    make_component,
    make_instrument,
    make_machine,
    make_model,
    make_open_inspection,
    make_person,
    make_signed_inspection,
    make_site,
)
from tests.fleet.circuit_texts import SMALL
from tests.fleet.money_rows import MONEY_RUNS
from tests.fleet.passkey_runs import PASSKEY_RUNS
from tests.inspections.attempt_runs import ATTEMPT_RUNS
from tests.inspections.calendar_runs import CALENDAR_RUNS
from tests.inspections.label_page.runs import LABEL_RUNS
from tests.inspections.note_runs import NOTE_RUNS
from tests.inspections.notices.runs import NOTICE_RUNS
from tests.inspections.planning_runs import PLANNING_RUNS
from tests.inspections.procedure_runs import PROCEDURE_RUNS
from tests.inspections.proposal_runs import RUNS_OF_PROPOSALS
from tests.inspections.repair_runs import RUNS_OF_REPAIRS
from tests.inspections.scenes import make_scene

ROOT = Path(__file__).resolve().parents[1]
UNJOURNALED = {"cancel_job", "note_token_use", "recover_jobs", "request_job", "retry_job"}  # they write no covered row
LATER = NOON + timedelta(days=1)
CONTRADICTION = SimpleNamespace(feature="outlet-check-valve", recorded="fitted", shown="not fitted")
# What changes no tracked row: readings have a history of their own, jobs, tokens and uploads an owner and
# times, amendments, judgements and procedure versions are only ever added, plans of a year are proposals.
NOT_TRACKED = {
    "Entry", "add_to_test_set", "amend_inspection", "begin_all_called_for", "begin_as_left", "begin_versions",
    "choose_test_set", "clear_reading", "confirm_reading", "draft_signature", "enter_meant", "enter_reading",
    "enter_readings_of_file", "store_fleet_choice", "weigh_review", "judge_criterion", "load_procedures",
    "note_token_use", "record_user_check",
    "reasons_against_signing", "compute_year", "propose_year", "undo_as_left",
}  # fmt: skip


@pytest.fixture
def by(db):
    return make_person("planner")


@pytest.fixture
def scene(tmp_path):
    return make_scene(tmp_path)


def contents():
    """Return the content of the tracked rows: model -> key -> field -> value."""
    rows = {}
    for model, tracked in tracked_models().items():
        plain = [name for name in tracked.fields if not model._meta.get_field(name).many_to_many]
        rows[tracked.label] = {row.pop("pk"): row for row in model._base_manager.values("pk", *plain)}
        for name in set(tracked.fields) - set(plain):
            for row in model._base_manager.all():
                rows[tracked.label][row.pk][name] = set(getattr(row, name).values_list("pk", flat=True))
    return rows


def add_instrument(site, by):
    scale = {"dimension": "flow", "unit": "L/min", "low": 0, "high": 10, "resolution": 0.1}
    return fleet.actions.add_instrument(scales=[scale], code="G-1", name="Gauge", site=site, by=by, at=LATER)


def signed(by):
    return make_signed_inspection(make_machine(), by=make_person("technician"))


def replaced(by):
    machine = make_machine(model=make_model(circuit=SMALL))
    fleet.actions.replace_component(machine, "vaporizer", on=TODAY, by=by, at=NOON)
    return machine.circuit_changes.get(verb="replaced")


def release(by, scene):
    scene.complete()
    withdraw_machine(scene.machine, by=by, at=NOON, reason="Old")
    retest = scene.sign()
    yield
    inspections.actions.release_machine(scene.machine, retest=retest, reason="Mended", by=by, at=LATER)


def simple(prepare, act):
    def run(by, scene):
        made = prepare(by)
        yield
        act(made, by)

    return run


NOW = {"at": LATER}
VAPORIZER_OUTLET = (Port("vaporizer", "out"), Port("outlet", "in"))
RUNS = {
    **{name: simple(*run) for name, run in (LABEL_RUNS | NOTICE_RUNS | CALENDAR_RUNS).items()},
    "add_site": simple(lambda by: None, lambda _, by: fleet.actions.add_site(code="n", name="North", by=by, **NOW)),
    "change_site": simple(lambda by: make_site(), lambda o, by: fleet.actions.change_site(o, name="New", by=by, **NOW)),
    "add_area": simple(lambda by: make_site(), lambda o, by: fleet.actions.add_area(o, name="A", by=by, **NOW)),
    "change_area": simple(
        lambda by: make_area(), lambda o, by: fleet.actions.change_area(o, minimum_machines=3, by=by, **NOW)),
    "add_model": simple(
        lambda by: None,
        lambda _, by: fleet.actions.add_model(
            code="m", manufacturer="Works", name="One", features={"o2-analyser": "fitted"}, by=by, **NOW
        ),
    ),
    "change_model": simple(
        lambda by: make_model(),
        lambda o, by: fleet.actions.change_model(o, features={"o2-analyser": "fitted"}, name="Two", by=by, **NOW),
    ),
    "add_instrument": simple(lambda by: make_site(), add_instrument),
    "record_calibration": simple(
        lambda by: make_instrument(),
        lambda o, by: fleet.actions.record_calibration(
            o, calibrated_on=TODAY, due_on=date(2027, 11, 2), certificate="N", result="within", by=by, **NOW
        ),
    ),
    "decide_calibration_rules": simple(
        lambda by: make_instrument(),
        lambda o, by: fleet.actions.decide_calibration_rules(
            o, applies_corrections=True, interval_months=9, longest_interval_months=12, by=by, **NOW
        ),
    ),
    "enter_calibration_points": simple(
        lambda by: make_instrument(scales=DEFAULT_SCALES[:1]),
        lambda o, by: fleet.actions.enter_calibration_points(
            o.calibrations.get(), ScalePoints(o.scales.get().pk, "kPa", (Point(1, 1, 1),)), by=by, **NOW
        ),
    ),
    "fit_component": simple(
        lambda by: make_machine(),
        lambda o, by: fleet.actions.fit_component(o, kind="apl-valve", label="APL", fitted_on=TODAY, by=by, **NOW),
    ),
    "remove_component": simple(
        lambda by: make_component(make_machine()),
        lambda o, by: fleet.actions.remove_component(o, removed_on=TODAY, by=by, **NOW)),
    "copy_circuits": simple(
        lambda by: make_machine(model=make_model(circuit=SMALL)),
        lambda o, by: fleet.actions.copy_circuits([o], by=by, **NOW),
    ),
    "insert_component": simple(
        lambda by: make_machine(model=make_model(circuit=SMALL)),
        lambda o, by: fleet.actions.insert_component(
            o, kind="check-valve", label="Valve", fitted_on=TODAY, between=[(*VAPORIZER_OUTLET, "in", "out")], by=by,
            **NOW,
        ),
    ),
    "replace_component": simple(
        lambda by: make_machine(model=make_model(circuit=SMALL)),
        lambda o, by: fleet.actions.replace_component(o, "vaporizer", on=TODAY, by=by, **NOW),
    ),
    "take_out_component": simple(
        lambda by: make_machine(model=make_model(circuit=SMALL)),
        lambda o, by: fleet.actions.take_out_component(o, "vaporizer", removed_on=TODAY, bridge=True, by=by, **NOW),
    ),
    "join_ports": simple(
        lambda by: make_machine(model=make_model(circuit=SMALL)),
        lambda o, by: fleet.actions.join_ports(
            o, Port("oxygen-inlet", "out"), Port("outlet", "in"), on=TODAY, by=by, **NOW
        ),
    ),
    "disconnect_ports": simple(
        lambda by: make_machine(model=make_model(circuit=SMALL)),
        lambda o, by: fleet.actions.disconnect_ports(o, *VAPORIZER_OUTLET, on=TODAY, by=by, **NOW),
    ),
    "undo_circuit_change": simple(
        replaced, lambda o, by: fleet.actions.undo_circuit_change(o, reason="Wrong machine", by=by, **NOW)),
    "register_machine": simple(
        lambda by: {"model": make_model(), "area": make_area()},
        lambda o, by: fleet.actions.register_machine(asset_number="X", in_use_from=TODAY, by=by, **o, **NOW),
    ),
    "correct_machine": simple(
        lambda by: make_component(make_machine(by=by)).machine,
        lambda o, by: fleet.actions.correct_machine(o, serial="S1", in_use_from=date(2014, 1, 1), by=by, **NOW),
    ),
    "withdraw_machine": simple(
        lambda by: make_machine(), lambda o, by: withdraw_machine(o, reason="Old", by=by, **NOW)),
    "retire_machine": simple(
        lambda by: make_machine(), lambda o, by: fleet.actions.retire_machine(o, reason="Old", by=by, **NOW)),
    "add_person": simple(
        lambda by: Group.objects.get(name="auditor"),
        lambda o, by: fleet.actions.add_person(username="new", groups=[o], by=None, **NOW),
    ),
    "change_person": simple(
        lambda by: (make_person("auditor"), make_site()),
        lambda o, by: fleet.actions.change_person(
            o[0], groups=[Group.objects.get(name="planner")], sites=[o[1]], last_name="New", by=by, **NOW
        ),
    ),
    "lock_person": simple(lambda by: make_person(), lambda o, by: fleet.actions.lock_person(o, by=by, **NOW)),
    "unlock_person": simple(
        lambda by: make_person(is_active=False), lambda o, by: fleet.actions.unlock_person(o, by=by, **NOW)),
    "remove_person": simple(
        lambda by: make_machine(by=make_person("auditor")).status_changes.get().by,
        lambda o, by: fleet.actions.remove_person(o, by=None, **NOW),
    ),
    "set_limit_override": simple(
        lambda by: make_site(),
        lambda o, by: inspections.actions.set_limit_override(
            test_code="supply-failure", result_key="trip_pressure", lower=26.0, unit="psi", reason="Local",
            source="A manual", from_date=TODAY, site=o, by=by, **NOW,
        ),
    ),
    "confirm_limit": simple(lambda by: make_site(), lambda o, by: confirm_first_limit(o, by=by, **NOW)),
    "withdraw_confirmation": simple(lambda by: confirm_first_limit(make_site(), by=by, at=NOON),
        lambda o, by: inspections.actions.withdraw_confirmation(o, reason="Outdated", by=by, **NOW)),
    "report_fault": simple(
        lambda by: make_machine(), lambda o, by: report_fault(o, title="Sticks", severity="other", by=by, **NOW)),
    "close_finding": simple(
        lambda by: report_fault(make_machine(), title="Sticks", severity="other", by=by, at=NOON),
        lambda o, by: inspections.actions.close_finding(o, note="Mended", by=by, **NOW),
    ),
    "settle_contradictions": simple(
        lambda by: make_machine(),
        lambda o, by: inspections.actions.settle_contradictions(o, [CONTRADICTION], by=by, **NOW)),
    "countersign_inspection": simple(
        signed, lambda o, by: inspections.actions.countersign_inspection(o, by=by, **NOW)),
    "choose_units": simple(
        lambda by: make_open_inspection(by=by), lambda o, by: choose_units(o, {"flow": "L/min"}, by=by, **NOW)),
}  # fmt: skip


def with_scene(act):
    def run(by, scene):
        planned = plan_inspection(scene.machine, scene.procedure, due_on=TODAY, by=by, at=NOON)
        yield
        act(scene, planned, by)

    return run


def undone_mark(_, scene):
    scene.leave_untested("flush", "No flowmeter.")
    yield
    scene.leave_untested("flush", "", at=LATER)


RUNS |= (
    ATTEMPT_RUNS
    | NOTE_RUNS
    | PROCEDURE_RUNS
    | RUNS_OF_REPAIRS
    | RUNS_OF_PROPOSALS
    | {name: simple(*run) for name, run in (PASSKEY_RUNS | MONEY_RUNS | PLANNING_RUNS).items()}
)
RUNS |= {
    "release_machine": release,
    "plan_inspection": with_scene(
        lambda s, planned, by: plan_inspection(s.machine, s.procedure, due_on=TODAY, by=by, **NOW)
    ),
    "plan_due_inspections": simple(
        lambda by: (load_all_procedures(), make_machine()),
        lambda o, by: inspections.actions.plan_due_inspections(today=TODAY, by=by, **NOW),
    ),
    "book_inspection": with_scene(
        lambda s, planned, by: inspections.actions.book_inspection(
            planned, technician=s.technician, booked_on=TODAY, by=by, **NOW
        )
    ),
    "void_inspection": with_scene(
        lambda s, planned, by: inspections.actions.void_inspection(planned, reason="Twice", by=by, **NOW)
    ),
    "set_not_tested": with_scene(lambda s, planned, by: s.leave_untested("flush", "No flowmeter.", at=LATER)),
    "undo of set_not_tested": undone_mark,
    "open_inspection": with_scene(lambda s, planned, by: inspections.actions.open_inspection(planned, by=by, **NOW)),
    "sign_inspection": with_scene(
        lambda s, planned, by: (
            s.complete(),
            inspections.actions.sign_inspection(s.inspection, by=by, **NOW),
        )
    ),
}


@pytest.mark.parametrize("name", sorted(RUNS))
def test_an_action_leaves_an_entry_for_every_row_that_it_changes(by, scene, name):
    run = RUNS[name](by, scene)
    next(run)
    ChangeEntry.objects.all().delete()
    before = contents()
    assert next(run, "done") == "done"
    changed = {
        (label, pk) for label, rows in contents().items() for pk, row in rows.items() if before[label].get(pk) != row
    }
    entries = {(entry.row, entry.row_pk) for entry in ChangeEntry.objects.all()}
    assert entries and changed <= entries
    assert changed or name in PASSKEY_RUNS  # no record of its own: the entry stands with the person


@pytest.mark.real_journal
@pytest.mark.parametrize("name", sorted(RUNS))
def test_an_action_journals_every_row_that_it_writes(request, db, name):
    """Only actions are journaled here: what an action writes outside of the journal shows as altered or inserted."""
    with history():
        with acting("test"):
            by, scene = (request.getfixturevalue(name) for name in ("by", "scene"))
            run = RUNS[name](by, scene)
            next(run)
        links = JournalLink.objects.count()
        assert next(run, "done") == "done"
    of_journal = [one for one in verify_store() if one.inspection is None]
    assert of_journal == [] and JournalLink.objects.count() > links


def test_no_module_calls_an_action_past_its_journal():
    """A module that was imported while the actions were would hold a function that nothing journals."""
    actions = [vars(fleet.actions)[name] for name in fleet.actions.__all__]
    actions += [vars(inspections.actions)[name] for name in inspections.actions.__all__]
    actions += [vars(uploads)[name] for name in uploads.ACTIONS]
    bare = {one.__wrapped__ for one in actions if hasattr(one, "__wrapped__")}
    past = [
        f"{name}.{key}"
        for name, module in sys.modules.items()
        if name.split(".")[0] in ("config", "fleet", "inspections") and ".actions" not in name
        for key, value in vars(module).items()
        if callable(value) and getattr(value, "__hash__", None) and value in bare
    ]
    assert past == []
    assert len(bare) > 40


def test_the_runs_cover_every_action_that_changes_a_tracked_row():
    through = {  # these change rows through an action that is run here
        "book_inspections", "confirm_upload", "import_register", "plan_retest", "register_machines",
        "record_feature_state", "return_machine_to_service", "end_limit_override", "remove_second_factor",
        "password_link", "set_up_second_factor",
    }  # fmt: skip
    known = set(RUNS) | through | NOT_TRACKED
    proposing = {"decide", "confirm_proposal", "decline_proposal", "take_back_proposal"}
    of_machines_and_work = (
        proposing
        | set(inspections.actions.__all__)
        | {
            name
            for name in (*fleet.actions.__all__, *uploads.ACTIONS)
            if not name.endswith(("_job", "_jobs", "_token", "_upload", "_digest"))
        }
    )
    assert of_machines_and_work - known <= {"settle_contest", "say_how_to_read"}


def test_an_entry_says_who_when_before_and_after_in_words(by):
    area, other = make_area(), make_area()
    machine = make_machine(area=area)
    fleet.actions.correct_machine(machine, area=other, serial="S-9", by=by, at=LATER)
    entry = changes_of("machine", machine.pk).first()
    assert (entry.by, entry.at) == (by, LATER)
    assert entry.before == {"Area": str(area), "Serial": ""}
    assert entry.after == {"Area": str(other), "Serial": "S-9"}


def test_a_protection_recorded_anew_is_told_with_the_machine(by):
    machine = make_machine(features={"o2-analyser": "fitted"})
    record_feature_state(machine, "o2-analyser", "not fitted", from_date=TODAY, evidence="seen", by=by, at=LATER)
    entry = changes_of("machine", machine.pk).first()
    assert entry.before["State"] == "fitted" and entry.after["State"] == "not fitted"


def test_what_is_refused_leaves_no_entry(by):
    machine = make_machine()
    withdraw_machine(machine, by=by, at=NOON, reason="Old")
    told = ChangeEntry.objects.count()
    with pytest.raises(Exception, match="can become withdrawn"):
        withdraw_machine(machine, by=by, at=LATER, reason="Again")
    assert ChangeEntry.objects.count() == told


def test_a_change_that_changes_nothing_leaves_no_entry(by):
    site = make_site(name="North")
    fleet.actions.change_site(site, name="North", by=by, at=LATER)
    assert not ChangeEntry.objects.exists()
