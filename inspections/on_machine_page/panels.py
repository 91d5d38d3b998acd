"""What inspections add to the pages of the fleet: due work, last results, findings, history, actions, due dates."""

from django.urls import reverse
from django.utils import timezone

from fleet.extensions import Event, Extension, MachineAction, MachinePage
from fleet.models import MachineStatus
from inspections.actions import ask_for_retest_of_alteration, settle_contradictions
from inspections.jobs.notices import request_matching_of_all
from inspections.kept.reviews import after_circuits
from inspections.label_page.machine_of_label import machine_key_of
from inspections.models import Finding, Inspection, Procedure, SafetyNotice
from inspections.models.querysets.findings import machines_with_findings
from inspections.models.querysets.inspections import machines_with_next_due
from inspections.on_machine_page.identity_facts import machine_facts
from inspections.on_machine_page.incident_panel import incident_panel, notices_panel
from inspections.on_machine_page.measured_values import measured_values
from inspections.on_machine_page.user_check_facts import label_events, reports_panel

OPEN_SHOWN = 5
FINDINGS_SHOWN = 3


def work_panel(request, machine):
    """What is open on the machine, with the next due date."""
    today = timezone.localdate()
    opened = Inspection.objects.open().filter(machine=machine).select_related("procedure", "technician")
    last = Inspection.objects.signed().with_result().filter(machine=machine).select_related("procedure", "signed_by")
    open_work = [(inspection, inspection.is_overdue(today)) for inspection in opened[:OPEN_SHOWN]]
    context = {
        "machine": machine,
        "open_work": open_work,
        "last_signed": last.order_by("-signed_at").first(),
        "can_plan": request.user.has_perm("inspections.plan_inspection"),
        "can_enter": request.user.has_perm("inspections.enter_reading"),
    }
    return "inspections/_machine_work.html", context


def findings_panel(request, machine):
    """The open findings of the machine."""
    found = Finding.objects.open().filter(machine=machine).select_related("result__step").worst_first()
    shown = list(found[:FINDINGS_SHOWN])
    more = found.count() - len(shown)
    context = {
        "machine": machine,
        "findings": shown,
        "more": more,
        "proposals": machine.proposals.waiting()[:OPEN_SHOWN],
    }
    return "inspections/_machine_findings.html", context


def machine_actions(request, machine):
    """What this person may do with the machine."""
    may, pk = request.user.has_perm, machine.pk
    offered = _next_at_bench(machine) if may("inspections.enter_reading") else []
    if machine.status == MachineStatus.WITHDRAWN:
        offered.append(MachineAction("Release", reverse("inspections:release", args=[pk]), "primary"))
    if machine.status != MachineStatus.RETIRED and may("inspections.plan_inspection"):
        offered.append(MachineAction("Plan an inspection", reverse("inspections:plan", args=[pk])))
    if machine.status != MachineStatus.RETIRED and may("inspections.add_finding"):
        offered.append(MachineAction("Report a fault", reverse("inspections:fault_report", args=[pk])))
    if machine.status == MachineStatus.WITHDRAWN:
        offered.append(MachineAction("DO NOT USE tag", reverse("inspections:tag_pdf", args=[pk]), "danger"))
    if machine.status == MachineStatus.RETIRED and may("inspections.view_decommissioninganswer"):
        offered.append(MachineAction("Decommissioning", reverse("inspections:decommissioning", args=[pk]), "primary"))
    if may("inspections.make_devicebook"):
        offered.append(MachineAction("Device book", reverse("inspections:device_book", args=[pk])))
    return [*offered, MachineAction("Label", reverse("inspections:label_pdf", args=[pk]))]


def _next_at_bench(machine):
    """The inspection in progress, else the one that is due first; of a withdrawn machine, the retest."""
    found = Inspection.objects.open().filter(machine=machine)
    if machine.status == MachineStatus.WITHDRAWN:
        found = found.in_progress() | found.retesting()
    first = found.select_related("procedure").in_progress_first().first()
    if first is None:
        return []
    verb, page = ("Continue", "bench") if first.is_in_progress else ("Start inspection", "open")
    return [MachineAction(f"{verb}: {first.procedure}", reverse(f"inspections:{page}", args=[first.pk]), "primary")]


def machine_events(request, machine, limit):
    """Inspections signed and voided, findings opened and closed, what arrived by the label; the newest of each."""
    inspected = [*_signed(machine, limit), *_voided(machine, limit)]
    return [*inspected, *_findings(machine, limit), *label_events(machine, limit)]


def _signed(machine, limit):
    signed = Inspection.objects.signed().with_result().filter(machine=machine).select_related("procedure", "signed_by")
    for one in signed.order_by("-signed_at")[:limit]:
        words = f"{one.procedure}: signed, incomplete" if one.is_incomplete else f"{one.procedure}: signed"
        mark = "Incomplete" if one.is_incomplete else one.stage_label
        yield Event(one.signed_at, words, str(one), str(one.signed_by), mark, one.get_absolute_url())


def _voided(machine, limit):
    voided = Inspection.objects.void().filter(machine=machine).select_related("procedure", "voided_by")
    for one in voided.order_by("-voided_at")[:limit]:
        by = str(one.voided_by or "")
        yield Event(one.voided_at, f"{one.procedure}: void", one.void_reason, by, "Void", one.get_absolute_url())


def _findings(machine, limit):
    found = Finding.objects.filter(machine=machine).select_related("opened_by", "closed_by", "token")
    for one in found.order_by("-opened_at")[:limit]:
        yield Event(one.opened_at, one.title, "Finding opened", one.author, "Open", one.get_absolute_url())
    for one in found.closed().order_by("-closed_at")[:limit]:
        by = str(one.closed_by or "")
        yield Event(
            one.closed_at, one.title, f"Finding closed: {one.closing_note}", by, "Closed", one.get_absolute_url()
        )


def recurring_procedures():
    """(code, title) of the procedures with an interval, the longest first."""
    return list(Procedure.objects.begun(timezone.localdate()).recurring().values_list("code", "title"))


def calibration_links(request, calibration):
    """On the page of a calibration: its files and, if it says how the instrument was found, what rests on it."""
    return [*_files_of(request, calibration), *_what_rests_on(request, calibration)]


def _files_of(request, calibration):
    if not request.user.has_perm("inspections.view_attachment"):
        return []
    return [MachineAction("Files", reverse("inspections:files", args=["calibration", calibration.pk]))]


def _what_rests_on(request, calibration):
    if not request.user.has_perm("inspections.view_inspection") or not any(
        one.found for one in calibration.scale_points
    ):
        return []
    return [MachineAction("What rests on it", reverse("inspections:found_error", args=[calibration.pk]))]


def list_links(request):
    """Below the list of machines: the device books of those that its filter keeps."""
    if not request.user.has_perm("inspections.make_devicebook"):
        return []
    return [MachineAction("Device books of this list", reverse("inspections:device_books"))]


def cover_links(request):
    """From the cover of today to how it came about, and to what it leaves open over time."""
    if not request.user.has_perm("inspections.view_inspection"):
        return []
    pictures = reverse("inspections:pictures")
    return [
        MachineAction("Safety features over the years", f"{pictures}#features"),
        MachineAction("Exposure by hazard", f"{pictures}#exposure"),
    ]


def after_retirement(machine):
    """Where somebody who has retired a machine goes on."""
    return reverse("inspections:decommissioning", args=[machine.pk])


def after_import(*, by, at):
    """What was imported may be concerned by a safety notice."""
    if SafetyNotice.objects.exists():
        request_matching_of_all(by=by, at=at)


EXTENSION = Extension(
    app="inspections",
    panels=(incident_panel, reports_panel, work_panel, findings_panel, notices_panel),
    pages=(
        MachinePage("Results", "inspections:machine_results"),
        MachinePage("Planning", "inspections:machine_planning"),
        MachinePage("Findings", "inspections:machine_findings"),
        MachinePage("User checks", "inspections:user_checks"),
        MachinePage("Files", "inspections:machine_files"),
        MachinePage("Papers", "inspections:machine_papers"),
        MachinePage("Money", "inspections:machine_money"),
    ),
    actions=machine_actions,
    facts=machine_facts,
    events=machine_events,
    columns=machines_with_next_due,
    counts=machines_with_findings,
    procedures=recurring_procedures,
    labelled=machine_key_of,
    measured=measured_values,
    measured_in=(Inspection,),
    contradictions=settle_contradictions,
    covers=after_circuits,
    calibrations=calibration_links,
    list_links=list_links,
    cover_links=cover_links,
    retired=after_retirement,
    imported=after_import,
    altered=ask_for_retest_of_alteration,
)
