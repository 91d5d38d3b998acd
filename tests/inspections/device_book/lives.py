"""A machine with something in every part of its device book."""

from datetime import timedelta

from fleet.actions import correct_machine, retire_machine, take_back
from fleet.models import EarlierInspection
from inspections.actions import (
    amend_inspection,
    code_finding,
    confirm_competence,
    open_incident,
    record_attempt,
    report_fault,
    withdraw_attachment,
)
from tests.factories import NOON, TODAY, make_area, make_away, make_component, make_inspection
from tests.fleet.device_book_rows import make_device_book_rows
from tests.inspections.attachments.rows import attach
from tests.inspections.decommissioning.runs import answer
from tests.inspections.label_page.rows import make_label_rows
from tests.inspections.notices.scenes import make_notice, name, regulator, searched
from tests.inspections.scenes import FAILING

LATER = NOON + timedelta(days=2)


def live(scene):
    """Let the machine of a scene live through everything; return its signed inspection."""
    machine, by = scene.machine, scene.other
    make_label_rows(machine, by, "Label")
    correct_machine(machine, area=make_area(machine.site, name="Theatre 9"), by=by, at=NOON)
    take_back(make_away(machine, to_whom="Ward of the test", by=by), returned_on=TODAY, by=by, at=NOON)
    confirm_competence(scene.technician, machine_model=machine.model, evidence="Course of May", by=by, at=NOON)
    make_device_book_rows(machine, by)
    scene.complete(FAILING)
    signed = scene.sign()
    amend_inspection(signed, correction="Read 27 psi.", reason="Misread.", by=by, at=NOON + timedelta(hours=1))
    record_attempt(make_inspection(machine, scene.procedure, by=by), kind="in use", by=by, at=NOON)
    EarlierInspection.objects.create(
        machine=machine, done_on=TODAY - timedelta(days=900), procedure="Old acceptance", source="old.csv",
        counts_as="acceptance", recorded_at=NOON,
    )  # fmt: skip
    finding = report_fault(machine, title="Vaporizer tipped", severity="other", by=by, at=NOON)
    code_finding(finding, code="use-error", cause="Carried filled", found_how="during use", by=by, at=NOON)
    regulator(machine, lot="R-24", serial="SN-77", label="Regulator")
    make_component(machine, label="Old hose", removed_on=TODAY)
    notice = make_notice(by)
    name(notice, by=by)
    searched(notice, by)
    open_incident(machine, by=by, at=NOON)
    attach(by, "Letter", title="Letter of the works", machine=machine)
    attach(by, "Fault", title="Picture of the fault", finding=finding)
    wrong = attach(by, "Wrong", title="Wrong letter", machine=machine)
    withdraw_attachment(wrong, reason="Other machine", by=by, at=NOON)
    retire_machine(machine, reason="Too old", by=by, at=NOON)
    answer(machine, by, "mercury", state="does not apply", words="It never had any", at=NOON)
    return signed
