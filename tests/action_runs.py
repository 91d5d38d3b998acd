"""A run of every action that changes a tracked row: what it prepares, and the action itself after the `yield`."""

from datetime import date, timedelta
from types import SimpleNamespace

from django.contrib.auth.models import Group

import fleet.actions
import inspections.actions
from fleet.actions import withdraw_machine
from fleet.calibration.points import Point, ScalePoints
from fleet.circuit.structure import Port
from inspections.actions import choose_units, plan_inspection, report_fault
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
from tests.fleet.altering.rows import ALTERATION_RUNS
from tests.fleet.circuit_texts import SMALL
from tests.fleet.device_book_rows import DEVICE_BOOK_RUNS
from tests.fleet.money_rows import MONEY_RUNS
from tests.fleet.passkey_runs import PASSKEY_RUNS
from tests.fleet.pasted_runs import PASTED_RUNS
from tests.fleet.whereabouts_runs import WHEREABOUTS_RUNS
from tests.inspections.attachments.runs import ATTACHMENT_RUNS
from tests.inspections.attempt_runs import ATTEMPT_RUNS
from tests.inspections.calendar_runs import CALENDAR_RUNS
from tests.inspections.decommissioning.runs import DECOMMISSIONING_RUNS
from tests.inspections.dossier_scene import DOSSIER_RUNS
from tests.inspections.label_page.runs import LABEL_RUNS
from tests.inspections.note_runs import NOTE_RUNS
from tests.inspections.notices.runs import NOTICE_RUNS
from tests.inspections.planning_runs import PLANNING_RUNS
from tests.inspections.procedure_runs import PROCEDURE_RUNS
from tests.inspections.proposal_runs import RUNS_OF_PROPOSALS
from tests.inspections.repair_runs import RUNS_OF_REPAIRS

LATER = NOON + timedelta(days=1)
CONTRADICTION = SimpleNamespace(feature="outlet-check-valve", recorded="fitted", shown="not fitted")


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
    **{name: simple(*run) for name, run in (WHEREABOUTS_RUNS | DOSSIER_RUNS | ALTERATION_RUNS).items()},
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
    | {name: simple(*run) for name, run in (PASSKEY_RUNS | MONEY_RUNS | PLANNING_RUNS | PASTED_RUNS).items()}
    | {name: simple(*run) for name, run in DEVICE_BOOK_RUNS.items()}
    | {name: simple(*run) for name, run in (ATTACHMENT_RUNS | DECOMMISSIONING_RUNS).items()}
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
