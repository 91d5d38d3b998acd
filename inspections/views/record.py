"""The page of one inspection: what is to be done, or the signed record."""

from django.contrib.auth.decorators import permission_required
from django.db.models import Q, prefetch_related_objects
from django.views.decorators.http import require_safe

from inspections.at_bench.progress import progress_of
from inspections.deciding.next_steps import way_on
from inspections.forms.bench import OpenForm
from inspections.forms.units import form_at_start
from inspections.models import Finding, Stage
from inspections.on_machine_page.user_check_facts import first_use_after
from inspections.records.reevaluation import decided_otherwise
from inspections.records.shown_notes import pictures_of
from inspections.records.signed_record import ShownRecord
from inspections.reports.proof import entries_of
from inspections.views.at_site import render_at_site, visible_inspection
from inspections.views.attempts import latest_attempts

CAUTIONS = [
    "For qualified personnel. The manufacturer's instructions, local codes and licensed practice come first.",
    "This record states what was measured and judged on that day. It does not replace the checks before each use.",
]
PEOPLE = ("signed_by", "countersigned_by", "opened_by", "planned_by", "booked_by", "voided_by")


@permission_required("inspections.view_inspection", raise_exception=True)
@require_safe
def inspection(request, pk):
    """An open inspection with what comes next, a void one with its reason, or a signed one as its record."""
    found = visible_inspection(request, pk, "version", "record", *PEOPLE, with_result=True)
    prefetch_related_objects([found], "retests")
    template, context = (_signed if found.is_signed else _not_signed)(found, request.user)
    context |= {"inspection": found, "machine": found.machine, "retests": list(found.retests.all())}
    return render_at_site(request, found.machine.site, template, context)


def _signed(found, person):
    amendments = list(found.amendments.select_related("by", "step"))
    opened = Q(result__step__inspection=found) | Q(step__inspection=found)
    findings = list(Finding.objects.filter(opened).select_related("result__step"))
    return "inspections/record.html", {
        "record": ShownRecord(found.record, amendments, pictures_of(found.record)),
        "entries": entries_of(found),
        "way_on": way_on(found, person, findings=findings),
        "proposals": found.proposals.waiting(),
        "untested": list(found.steps.essential_untested()) if found.is_incomplete else [],
        "findings": findings,
        "first_use": first_use_after(found),
        "repaired": [one for one in findings if one.result and not one.result.step.is_last],
        "statement": CAUTIONS,
        "today": decided_otherwise(found),
    }


def _not_signed(found, person):
    if found.stage == Stage.VOID:
        return "inspections/void_page.html", {}
    progress = progress_of(found) if found.is_in_progress else None
    if found.is_in_progress:
        return "inspections/inspection.html", {"progress": progress, "attempts": latest_attempts(found)}
    forms = {"form": OpenForm(site=found.machine.site), "units_form": form_at_start(found, person)}
    return "inspections/inspection.html", {"progress": progress, "attempts": latest_attempts(found), **forms}
