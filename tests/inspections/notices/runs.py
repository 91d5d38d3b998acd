"""How each action of notices and incidents is run in tests/test_changes.py: what it needs, and the action itself."""

from datetime import timedelta

from inspections.actions import (
    add_criterion,
    add_incident_note,
    add_notice,
    close_incident,
    close_notice,
    correct_criterion,
    match_notice,
    open_finding_of_item,
    open_found_error_notice,
    open_incident,
    plan_work_of_item,
    settle_item,
    settle_items,
    withdraw_criterion,
)
from inspections.deciding.found_error import Suspected
from inspections.models import Procedure
from tests.factories import (
    NOON,
    TODAY,
    load_all_procedures,
    make_instrument,
    make_machine,
    make_person,
    make_signed_inspection,
)
from tests.inspections.notices.scenes import FIELDS, KIND, make_notice, name, regulator, searched

AT = NOON + timedelta(days=1)
WHO = {"at": AT}


def _named(by):
    notice = make_notice(by)
    name(notice, by=by)
    regulator(lot="R-24")
    return notice


def _item(by):
    return searched(_named(by), by).items.get(component__isnull=False)


def _settled(by):
    notice = searched(_named(by), by)
    for item in notice.items.all():
        settle_item(item, state="done", words="Replaced", by=by, at=NOON)
    return notice


def _doubtful(by):
    inspection = make_signed_inspection(by=make_person("technician"))
    step = inspection.steps.get()
    return make_instrument().calibrations.get(), [Suspected(inspection, step, "Trip", "pass", "fail", "1", "2")]


def _yearly(by):
    load_all_procedures()
    return _item(by), Procedure.objects.get(code="yearly")


def _incident(by):
    return open_incident(make_machine(), by=make_person("technician"), at=NOON)


NOTICE_RUNS = {
    "add_notice": (lambda by: FIELDS, lambda fields, by: add_notice(by=by, **WHO, **fields)),
    "add_criterion": (make_notice, lambda o, by: add_criterion(o, what="component", kind=KIND, by=by, **WHO)),
    "withdraw_criterion": (
        lambda by: searched(_named(by), by).criteria.get(),
        lambda o, by: withdraw_criterion(o, reason="Another lot", by=by, **WHO),
    ),
    "correct_criterion": (
        lambda by: searched(_named(by), by).criteria.get(),
        lambda o, by: correct_criterion(o, reason="Typed wrongly", what="component", kind=KIND, by=by, **WHO),
    ),
    "match_notice": (_named, lambda o, by: match_notice(o, by=by, **WHO)),
    "settle_item": (_item, lambda o, by: settle_item(o, state="gone", words="Sold", by=by, **WHO)),
    "settle_items": (
        lambda by: list(searched(_named(by), by).items.all()),
        lambda o, by: settle_items(o, state="done", words="Replaced", by=by, **WHO),
    ),
    "open_finding_of_item": (_item, lambda o, by: open_finding_of_item(o, severity="other", by=by, **WHO)),
    "plan_work_of_item": (
        _yearly, lambda o, by: plan_work_of_item(o[0], procedure=o[1], due_on=TODAY, by=by, **WHO)
    ),
    "close_notice": (_settled, lambda o, by: close_notice(o, note="Answered", by=by, **WHO)),
    "open_found_error_notice": (
        _doubtful, lambda o, by: open_found_error_notice(*o, looked=1, received_on=TODAY, by=by, **WHO)
    ),
    "open_incident": (lambda by: make_machine(), lambda o, by: open_incident(o, by=by, **WHO)),
    "add_incident_note": (_incident, lambda o, by: add_incident_note(o, text="Dial at 3 %", by=by, **WHO)),
    "close_incident": (_incident, lambda o, by: close_incident(o, reason="Reported", by=by, **WHO)),
}  # fmt: skip
