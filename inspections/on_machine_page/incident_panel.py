"""On the page of a machine: an open serious incident or the button that opens one, and open items of notices."""

from fleet.models import MachineStatus
from inspections.forms.incidents import OpenIncidentForm
from inspections.models import NoticeItem, SeriousIncident

SHOWN = 5
ADD = "inspections.add_seriousincident"


def incident_panel(request, machine):
    """One press freezes what is known; the open incident is shown first."""
    found = SeriousIncident.objects.open().filter(machine=machine).select_related("opened_by").first()
    context = {
        "machine": machine,
        "incident": found,
        "form": OpenIncidentForm(auto_id="incident_%s"),
        "may_open": found is None and request.user.has_perm(ADD),
        "is_retired": machine.status == MachineStatus.RETIRED,
    }
    return "inspections/_machine_incident.html", context


def notices_panel(request, machine):
    """The open items of safety notices on the machine and its components."""
    found = NoticeItem.objects.open().filter(machine=machine).select_related("notice", "component", "inspection")
    items = list(found.order_by("notice__answer_by", "pk")[: SHOWN + 1])
    context = {"machine": machine, "items": items[:SHOWN], "has_more": len(items) > SHOWN}
    return "inspections/_machine_notices.html", context
