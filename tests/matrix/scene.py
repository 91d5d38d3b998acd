"""An object for every address, all at one site, with names that can be recognised in answers."""

import re
from dataclasses import dataclass, field
from pathlib import Path
from tempfile import TemporaryDirectory

from config.groups import GROUPS
from fleet.actions import replace_component, retire_machine
from fleet.models import Job, RegisterUpload
from inspections.actions import (
    add_incident_note,
    add_photograph,
    add_planning_rule,
    begin_draft,
    enter_leave,
    enter_meter_reading,
    enter_reading,
    make_calendar_feed,
    open_incident,
    open_inspection,
    plan_inspection,
    record_attempt,
    record_replacement,
    report_fault,
    set_component_life,
    set_limit_override,
    write_remark,
)
from inspections.at_bench.limits_of_site import limits_of_site
from inspections.at_bench.reading_entry import entry_at
from inspections.label_page.form_tokens import new_receipt
from inspections.models import Procedure
from inspections.procedure_editing.written_form import written_form
from inspections.proposals import Closing, decide
from tests.factories import (
    NOON,
    TODAY,
    confirm_first_limit,
    load_all_procedures,
    make_area,
    make_away,
    make_circuit_cover,
    make_component,
    make_instrument,
    make_machine,
    make_model,
    make_person,
    make_procedure,
    make_site,
    make_token,
    make_value_meaning,
    make_waiting_row,
)
from tests.fleet.altering.rows import make_alteration_rows
from tests.fleet.circuit_texts import SMALL
from tests.fleet.device_book_rows import make_device_book_rows
from tests.fleet.money_rows import make_money_rows
from tests.fleet.photographs.pictures import clean_picture
from tests.inspections.attachments.rows import make_attachment_rows
from tests.inspections.decommissioning.runs import make_decommissioning_rows
from tests.inspections.dossier_scene import store_dossier
from tests.inspections.exposure_rows import make_exposure
from tests.inspections.fleet_choice_rows import make_fleet_choice, make_review_weights
from tests.inspections.label_page.rows import make_label_rows
from tests.inspections.notices.scenes import make_notice, regulator, searched
from tests.inspections.notices.scenes import name as name_in_notice
from tests.inspections.planning_runs import leave_a_limit
from tests.inspections.scenes import SHORT
from tests.inspections.scenes import Scene as BenchScene
from tests.passkeys import give_passkey

CONVERTER = re.compile(r"<(?:\w+:)?(\w+)>")
MARK = "Quellwald"  # part of the name of everything at the site


@dataclass
class Scene:
    """`values` maps the start of a route to the values of its converters; the longest matching start applies."""

    site: object
    values: dict = field(default_factory=dict)
    planner: object = None
    posted: dict = field(default_factory=dict)  # the data that an address checks first

    def values_of(self, address):
        starts = sorted((start for start in self.values if address.route.startswith(start)), key=len)
        values = {}
        for start in starts:
            values |= self.values[start]
        return {
            name: value
            for name, value in values.items()
            if f":{name}>" in address.route or f"<{name}>" in address.route
        }


def make_scene():
    load_all_procedures()
    site = make_site(name=f"{MARK} hospital", code="quellwald", has_label_page=True, fault_phone=f"{MARK} 4417")
    scene = Scene(site, planner=make_person("planner", last_name=f"{MARK}er", sites=[site]))
    technician = make_person("technician", last_name=f"{MARK}mann", sites=[site])
    area = make_area(site, name=f"{MARK} theatre")
    machine = make_machine(
        area=area, model=make_model(code="type-x", circuit=SMALL), asset_number=f"{MARK}-1", by=technician
    )
    make_circuit_cover(machine, open={"barotrauma": (1, 1)})
    scene.values = {
        "": {"code": "supply-failure", "fmt": "csv", "kind": "machines", "criterion": "A1", "slug": "book-the-month"},
        "password/": {"uidb64": "MQ", "token": "set-password"},
        "machines/": {"pk": machine.pk, "code": "o2-analyser"},
        "retirement/": {"pk": machine.pk},
        "machines/components/": {"pk": make_component(machine, label=f"{MARK} part").pk},
        "machines/<int:pk>/circuit/": {"pk": machine.pk, "code": "vaporizer"},
        "machines/circuit/": {"pk": _circuit_change(machine, technician).pk},
        "machines/models/": {"pk": machine.model_id},
        "machines/sites/": {"pk": site.pk},
        "machines/areas/": {"pk": area.pk},
        "machines/<int:pk>/software-and-users/": {
            "kind": "software",
            "row_pk": make_device_book_rows(machine, technician, MARK).pk,
        },
        "machines/away/": {"pk": _away(area, machine.model, technician).pk},
        "machines/import/": {"pk": _upload(scene.planner).pk},
        "machines/import/meanings/": {"pk": make_value_meaning(site, scene.planner).pk},
        "machines/import/waiting/": {"pk": make_waiting_row(scene.planner, MARK).upload_id},
        "people/": {"pk": technician.pk},
        "people/tokens/": {"pk": (token := _token(technician)).pk},
        "tokens/": {"pk": token.pk},
        "passkeys/": {"pk": (passkey := _passkey(technician)).pk},
        "people/passkeys/": {"pk": passkey.pk},
        "changes/": {"pk": machine.pk, "kind": "machine"},
        "jobs/": {"pk": _job(scene.planner).pk},
        "api/v1/machines/": {"pk": machine.pk},
        "api/v1/models/": {"pk": machine.model_id},
        **_work(machine, technician, site),
        "inspections/year/calendars/": {"pk": technician.pk},
        "calendar/": {"code": make_calendar_feed(area=area, by=scene.planner, at=NOON)[1]},
        "inspections/year/withdraw/": {"pk": _leave(technician, scene.planner).pk, "kind": "leave"},
    }
    scene.values |= label_values(machine, scene.planner) | _money(machine, technician)
    scene.values |= notice_values(machine, scene.planner)
    scene.values |= _evidence(machine, scene.planner)
    scene.values |= _planning_values(machine, procedure=Procedure.objects.get(code="weekly"), by=technician)
    signed = scene.values["inspections/<int:pk>/amend"]["pk"]
    scene.values["proposals/"] = {"pk": _proposal(machine, technician).pk}
    scene.posted = {"inspections:release": {"retest": signed}}
    return scene


def _money(machine, person):
    """Amounts of every kind, weights of the site, and a choice for it."""
    rows = make_money_rows(machine, person, MARK)
    make_review_weights(machine.site, person, MARK)
    choice = make_fleet_choice(machine, person, f"{MARK} board")
    make_exposure(machine.site, choice, person)
    other = make_machine(area=machine.area, model=machine.model, asset_number=f"{MARK}-6", by=person)
    altered = make_alteration_rows(machine, other, person, MARK)
    return {
        "alterations/": {"pk": altered.plan_id},
        "alterations/machines/": {"pk": altered.pk},
        "money/": {"kind": "contracts", "pk": rows["contracts"].pk},
        "retirement/weights/": {"pk": machine.site.pk},
        "retirement/choices/": {"pk": choice.pk},
    }


def _away(area, model, person):
    """A machine that is lent."""
    machine = make_machine(area=area, model=model, asset_number=f"{MARK}-8", by=person)
    return make_away(machine, to_whom=f"{MARK} county", reason=f"{MARK} needs one", by=person)


def _leave(technician, planner):
    return enter_leave(technician, kind="leave", first_day=TODAY, last_day=TODAY, by=planner, at=NOON)


def _work(machine, technician, site):
    procedure = _short_procedure()
    signed = _signed(machine, technician, procedure, site)
    planned, opened = (
        plan_inspection(machine, procedure, due_on=TODAY, by=technician, at=NOON, note=MARK) for _ in range(2)
    )
    open_inspection(opened, by=technician, at=NOON)
    record_attempt(planned, kind="not located", reason=MARK, by=technician, at=NOON)
    finding = report_fault(machine, title=f"{MARK} flush sticks", severity="other", by=technician, at=NOON)
    instrument = make_instrument(site=site, name=f"{MARK} gauge")
    limit = set_limit_override(
        test_code="supply-failure", result_key="trip_pressure", lower=26.0, unit="psi", reason=MARK,
        source="A manual", from_date=TODAY, by=technician, at=NOON, site=site,
    )  # fmt: skip
    confirmed = confirm_first_limit(site, by=technician, at=NOON)
    step = opened.steps.that_apply().first()
    own = {"pk": opened.pk, "step_pk": step.pk}
    question = _question(step, technician)
    photograph = _note(step, technician)
    return {
        "inspections/": {"pk": planned.pk, "step_pk": step.pk},
        **{f"inspections/<int:pk>/{page}": own for page in ("bench", "readings-file", "sign", "contest")},
        **{f"inspections/<int:pk>/{page}": {"pk": signed.pk} for page in ("countersign", "amend", "record.pdf")},
        "inspections/steps/": {"pk": step.pk},
        "inspections/questions/": {"pk": question.pk},
        "inspections/replaced/": {"pk": record_replacement(step, "battery", note=MARK, by=technician, at=NOON).pk},
        "inspections/steps/photographs/": {"pk": photograph.pk},
        "inspections/photographs/": {"pk": photograph.pk},
        "findings/": {"pk": finding.pk},
        "instruments/": {"pk": instrument.pk},
        "instruments/calibrations/": {"pk": instrument.calibrations.get().pk},
        "library/limits/": {"pk": limit.pk},
        "library/limits/sites/": {"pk": site.pk, "code": limits_of_site(site)[1].code},
        "library/limits/confirmations/": {"pk": confirmed.pk},
        "library/procedures/": {"pk": procedure.pk},
        "library/procedures/drafts/": {"pk": _draft(procedure, make_person("planner")).pk, "code": "alarm"},
        "api/v1/instruments/": {"pk": instrument.pk},
        "api/v1/inspections/": {"pk": signed.pk},
        "api/v1/steps/": {"pk": step.pk},
        "api/v1/findings/": {"pk": finding.pk},
    }


def _planning_values(machine, *, procedure, by):
    """A planning rule for the machine, the life of a component, and what its meter showed."""
    said = {"reason": f"{MARK} committee", "reference": f"{MARK} policy 4", "source": "policy", "from_date": TODAY}
    rule, _ = add_planning_rule(
        procedure=procedure, reach="machine", target=machine, interval_days=7, window_days=2, by=by, at=NOON, **said
    )
    of_every_site = {**said, "reason": "Capacity falls", "reference": "Manual, page 9"}
    life = set_component_life(kind="battery", life=5, unit="hours", by=None, at=NOON, **of_every_site)
    battery = make_component(machine, kind="battery", label=f"{MARK} battery")
    leave_a_limit(machine.site, by, reason=f"{MARK} decides in May")
    reading = enter_meter_reading(battery, unit="hours", used=3, read_on=TODAY, note=MARK, by=by, at=NOON)
    return {
        "library/planning/": {"pk": rule.pk},
        "library/intervals/": {"pk": store_dossier(make_person("planner"), machine.model).pk},
        "library/intervals/policies/": {"code": "essential"},
        "library/lives/": {"pk": life.pk},
        "machines/components/meter/": {"pk": reading.pk},
    }


def _question(step, technician):
    """What the bench asks about a pipeline pressure that looks like psi."""
    reading = enter_reading(
        step, entry_at(step, "full_pressure", as_read="50", unit="kPa"), by=technician, at=NOON
    )  # fmt: skip
    return reading.questions.get()


def _short_procedure():
    with TemporaryDirectory() as directory:
        return make_procedure(SHORT, directory=Path(directory))


def _draft(procedure, person):
    """A draft of a new version, which waits for nobody."""
    version = procedure.current_version(TODAY)
    return begin_draft(written_form(version.content), procedure=procedure, based_on=version, by=person, at=NOON)


def _signed(machine, technician, procedure, site):
    """An inspection that was measured and signed by the real actions."""
    opened = plan_inspection(machine, procedure, due_on=TODAY, by=technician, at=NOON)
    open_inspection(opened, by=technician, at=NOON)
    gauges = (make_instrument(site=site, name=f"{MARK} gauge") for _ in range(2))
    bench = BenchScene(technician, technician, machine, *gauges, procedure, opened)
    bench.complete()
    _note(bench.step(), technician)
    return bench.sign()


def label_values(machine, person):
    label, report, check = make_label_rows(machine, person, MARK)
    return {
        "m/": {"code": label.code, "kind": "daily", "receipt": new_receipt(label, "daily", check.pk)},
        "fault-reports/": {"pk": report.pk},
    }


def notice_values(machine, person):
    """A notice with an open item on the machine, and a serious incident on another machine there."""
    regulator(machine, lot="R-24", label=f"{MARK} regulator")
    notice = make_notice()  # of no site: everybody sees it, and of its items those of the own sites
    name_in_notice(notice)
    searched(notice)
    other = make_machine(area=machine.area, model=machine.model, asset_number=f"{MARK}-9", by=person)
    incident = open_incident(other, by=person, at=NOON)
    add_incident_note(incident, text=f"{MARK} dial at 3 %", by=person, at=NOON)
    return {
        "notices/": {"pk": notice.pk},
        "notices/criteria/": {"pk": notice.criteria.get().pk},
        "notices/items/": {"pk": notice.items.get(component__lot="R-24").pk},
        "incidents/": {"pk": incident.pk},
    }


def _evidence(machine, person):
    """Attached files of the machine, and another machine there that is retired, with an answer to its checklist."""
    other = make_machine(area=machine.area, model=machine.model, asset_number=f"{MARK}-7", by=person)
    retire_machine(other, reason=f"{MARK} too old", by=person, at=NOON)
    make_decommissioning_rows(other, person, MARK)
    return {
        "files/": {"pk": make_attachment_rows(machine, person, MARK).pk},
        "files/<slug:of>/": {"of": "machine", "pk": machine.pk},
        "machines/<int:pk>/decommissioning/": {"pk": other.pk, "code": "cleaned"},
    }


def _note(step, technician):
    """Write a remark, and return a photograph."""
    write_remark(step, f"{MARK} hose is worn.", by=technician, at=NOON)
    return add_photograph(step, clean_picture(), caption=f"{MARK} hose", by=technician, at=NOON)


def _circuit_change(machine, person):
    replace_component(machine, "outlet", on=TODAY, serial=f"{MARK}-7", by=person, at=NOON)
    return machine.circuit_changes.get(verb="replaced")


def _upload(person):
    return RegisterUpload.objects.create(name=f"{MARK}.csv", content=b"asset_number\nX\n", by=person, uploaded_at=NOON)


def _proposal(machine, person):
    """A proposal to close an essential finding, which waits for a second person."""
    finding = report_fault(machine, title=f"{MARK} leaks", severity="essential", by=person, at=NOON)
    return decide(Closing(finding), reason=f"{MARK} tightened", by=person, at=NOON)


def _job(person):
    return Job.objects.create(
        kind="plan-due", title=f"{MARK} work", key="matrix", by=person, asked_at=NOON, stage=Job.Stage.DONE,
        finished_at=NOON,
    )  # fmt: skip


def _token(owner):
    return make_token(owner, name=f"{MARK} stores")[0]


def _passkey(owner):
    give_passkey(owner)
    return owner.passkeys.get()


def person_of_every_group(**fields):
    return make_person(*GROUPS, **fields)
