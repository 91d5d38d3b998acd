"""What arrived by the label of a machine, beside its identity, in its history and among its panels."""

from dataclasses import dataclass

from django.urls import reverse

from fleet.extensions import Event, Fact
from fleet.web.at_site import day_words
from inspections.label_page.machine_standing import first_use_awaited_since, last_signed_at
from inspections.models import FaultReport, UserCheck

SHOWN = 12


@dataclass(frozen=True, slots=True)
class FirstUse:
    """The first-user check that followed a service; without `check` it is awaited."""

    check: UserCheck | None


def user_check_facts(machine):
    """The last daily check and the first-user check; nothing where labels open no public page and none was recorded."""
    last = {check.kind: check for check in UserCheck.objects.latest_of_each_kind(machine)}
    if not last and not machine.site.has_label_page:
        return []
    url = reverse("inspections:user_checks", args=[machine.pk])
    daily = last.get(UserCheck.Kind.DAILY)
    return [_fact("Daily check", daily, "none recorded", url), _first_use_fact(machine, last, url)]


def _first_use_fact(machine, last, url):
    awaited = first_use_awaited_since(machine, last_signed_at(machine))
    if awaited:
        return Fact("First-user check", "not recorded", "Due", url, f"since the service of {day_words(awaited)}")
    return _fact("First-user check", last.get(UserCheck.Kind.FIRST_USER), "none recorded", url)


def _fact(label, check, nothing, url):
    if check is None:
        return Fact(label, nothing, url=url)
    note = f"{check.by_name}: problem found" if check.found_problem else check.by_name
    return Fact(label, day_words(check.at), url=url, note=note)


def reports_panel(request, machine):
    """The fault reports that wait for triage."""
    reports = list(FaultReport.objects.waiting().filter(machine=machine)[:SHOWN])
    return "inspections/_machine_reports.html", {"machine": machine, "reports": reports}


def label_events(machine, limit):
    """First-user checks, problems found by users, and fault reports; the newest of each."""
    url = reverse("inspections:user_checks", args=[machine.pk])
    for check in UserCheck.objects.filter(machine=machine).worth_an_event()[:limit]:
        yield Event(check.at, check.get_kind_display(), check.get_result_display(), check.by_name, "", url)
    for report in FaultReport.objects.filter(machine=machine)[:limit]:
        detail = f"Fault reported from the label: {report.get_state_display().lower()}"
        yield Event(report.reported_at, report.number, detail, report.who, "", report.get_absolute_url())


def first_use_after(inspection):
    """Return the first-user check after a signed inspection and the return to service on it, for the record's page.

    None where labels open no public page and none was recorded: nobody could record it.
    """
    checks = UserCheck.objects.by_first_user().filter(machine=inspection.machine).since(inspection.signed_at)
    check, has_page = checks.order_by("at", "pk").first(), inspection.machine.site.has_label_page
    if check is None and not has_page:
        return None
    later = _next_service(inspection)
    if check and later and check.at >= later:
        check = None
    return FirstUse(check) if check or (has_page and not later) else None


def _next_service(inspection):
    """When the next inspection of the machine was signed; a check from then on is about that one."""
    others = inspection.machine.inspections.signed().filter(signed_at__gt=inspection.signed_at)
    return others.order_by("signed_at").values_list("signed_at", flat=True).first()
