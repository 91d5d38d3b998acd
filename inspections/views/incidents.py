"""Serious incidents: one press on the page of a machine, the incident with its clocks, its file, notes, closing."""

from django.contrib import messages
from django.contrib.auth.decorators import permission_required
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_POST, require_safe

from fleet.export.download import file_response
from fleet.views.machines import visible_machine
from fleet.web.at_site import show_as_site
from fleet.web.form_methods import FORM_METHODS
from fleet.web.query_values import page_asked
from inspections.actions import add_incident_note, close_incident, open_incident
from inspections.errors import Refused
from inspections.forms.incidents import CloseIncidentForm, IncidentNoteForm, OpenIncidentForm
from inspections.incidents.report_rules import JURISDICTIONS, UNTOUCHED, UNTOUCHED_SOURCE, clocks
from inspections.models import SeriousIncident

PER_PAGE = 25
VIEW, ADD, CHANGE = (f"inspections.{verb}_seriousincident" for verb in ("view", "add", "change"))


@permission_required(VIEW, raise_exception=True)
@require_safe
def incidents(request):
    rows = SeriousIncident.objects.visible_to(request.user).with_place().defer("content")
    return render(request, "inspections/incidents.html", {"page": page_asked(request, rows, PER_PAGE)})


@permission_required(ADD, raise_exception=True)
@require_POST
def incident_open(request, pk):
    machine = visible_machine(request, pk)
    form = OpenIncidentForm(request.POST)
    chosen = form.cleaned_data["jurisdiction"] if form.is_valid() else ""
    try:
        incident = open_incident(machine, by=request.user, at=timezone.now(), jurisdiction=chosen)
    except Refused as refused:
        messages.error(request, str(refused))
        return redirect(machine)
    messages.success(request, "What is known of the machine is frozen. Now add what you saw.")
    return redirect(incident)


@permission_required(VIEW, raise_exception=True)
@require_safe
def incident(request, pk):
    """The clocks, what must not be touched, the frozen file with its check, and the notes."""
    found = _incident(request, pk)
    site = found.machine.site
    first, today = site.date_of(found.opened_at), site.date_of(timezone.now())
    context = {
        "incident": found,
        "form": IncidentNoteForm(),
        "clocks": clocks(found.jurisdiction, first, today),
        "jurisdictions": JURISDICTIONS,
        "jurisdiction": JURISDICTIONS.get(found.jurisdiction, ""),
        "untouched": UNTOUCHED,
        "untouched_source": UNTOUCHED_SOURCE,
        "notes": found.notes.select_related("by")[:200],
        "may_close": found.is_open and request.user.has_perm(CHANGE) and found.opened_by_id != request.user.pk,
    }
    return render(request, "inspections/incident.html", context)


@permission_required(ADD, raise_exception=True)
@require_POST
def incident_note(request, pk):
    found, form = _incident(request, pk), IncidentNoteForm(request.POST)
    try:
        text = form.cleaned_data["text"] if form.is_valid() else ""
        add_incident_note(found, text=text, by=request.user, at=timezone.now())
    except Refused as refused:
        messages.error(request, str(refused))
    else:
        messages.success(request, "The note is added.")
    return redirect(found)


@permission_required(VIEW, raise_exception=True)
@require_safe
def incident_file(request, pk):
    """Send the file exactly as it was frozen."""
    found = _incident(request, pk)
    return file_response(f"incident-{found.pk}.json", found.content.encode("utf-8"))


@permission_required(CHANGE, raise_exception=True)
@require_http_methods(FORM_METHODS)
def incident_close(request, pk):
    found = _incident(request, pk)
    form = CloseIncidentForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            close_incident(found, reason=form.cleaned_data["reason"], by=request.user, at=timezone.now())
        except Refused as refused:
            form.add_error(None, str(refused))
        else:
            messages.success(request, f"The {found} is closed. The machine stays withdrawn until it is released.")
            return redirect(found)
    return render(request, "inspections/incident_close.html", {"incident": found, "form": form})


def _incident(request, pk):
    found = get_object_or_404(SeriousIncident.objects.visible_to(request.user).with_place(), pk=pk)
    show_as_site(found.machine.site)
    return found
