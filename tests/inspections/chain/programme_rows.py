"""A row in every table of planning rules, lives of components, notices, incidents, files, money and choices."""

from inspections.actions import add_incident_note, open_incident
from inspections.models import ContainedInspection, Inspection, Procedure
from tests.factories import NOON, TODAY, make_away, make_component
from tests.fleet.altering.rows import make_alteration_rows
from tests.fleet.device_book_rows import make_device_book_rows
from tests.fleet.money_rows import make_money_rows
from tests.inspections.attachments.rows import make_attachment_rows
from tests.inspections.decommissioning.runs import make_decommissioning_rows
from tests.inspections.dossier_scene import store_dossier, store_policy
from tests.inspections.fleet_choice_rows import make_fleet_choice, make_review_weights
from tests.inspections.notices.scenes import make_notice, name, regulator, searched
from tests.inspections.planning_runs import add_rule, leave_a_limit, read_meter, set_life


def make_programme_rows(machine, other, by):
    """The `other` machine has a serious incident, and a component that a notice is about."""
    add_rule(machine, by)
    set_life(by)
    read_meter(make_component(machine, kind="battery", label="Battery of a ventilator"), by)
    done = Inspection.objects.signed().earliest("pk")
    ContainedInspection.objects.create(
        done_in=done, procedure=Procedure.objects.get(code="half-yearly"), done_on=TODAY, at=NOON
    )
    notice = make_notice(by)
    name(notice, by=by)
    regulator(other, lot="R-24", label="Regulator of a lot")
    searched(notice, by)
    add_incident_note(open_incident(other, by=by, at=NOON), text="Oxygen at 2 L/min.", by=by, at=NOON)
    make_attachment_rows(machine, by)
    make_decommissioning_rows(other, by)
    make_money_rows(machine, by, "Row")
    make_away(machine, by=by)
    make_device_book_rows(machine, by)
    store_dossier(by, machine.model)
    store_policy(by)
    leave_a_limit(machine.site, by)
    make_review_weights(machine.site, by)
    make_alteration_rows(machine, other, by, "Row")
    make_fleet_choice(machine, by)
