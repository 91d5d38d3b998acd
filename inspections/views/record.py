"""The page of one inspection: what is to be done, or the signed record."""

from urllib.parse import urlencode

from django.contrib.auth.decorators import permission_required
from django.db.models import Q
from django.views.decorators.http import require_safe

from inspections.at_bench.progress import progress_of
from inspections.forms.bench import OpenForm
from inspections.models import Finding, Stage
from inspections.records.reevaluation import decided_otherwise
from inspections.records.signed_record import ShownRecord
from inspections.reports.proof import entries_of
from inspections.views.at_site import render_at_site, visible_inspection

REASON_LENGTH = 300
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
    template, context = _signed(found) if found.is_signed else _not_signed(found)
    context |= {"inspection": found, "machine": found.machine, "retests": list(found.retests.all())}
    return render_at_site(request, found.machine.site, template, context)


def _signed(found):
    amendments = list(found.amendments.select_related("by", "step"))
    awaiting = Finding.objects.awaiting_withdrawal().filter(result__step__inspection=found)
    opened = Q(result__step__inspection=found) | Q(step__inspection=found)
    findings = Finding.objects.filter(opened).select_related("result__step")
    return "inspections/record.html", {
        "record": ShownRecord(found.record, amendments),
        "entries": entries_of(found),
        "awaiting": list(awaiting),
        "proposals": found.proposals.waiting(),
        "untested": list(found.steps.essential_untested()) if found.is_incomplete else [],
        "findings": list(findings),
        "repaired": [one for one in findings if one.result and not one.result.step.is_last],
        "statement": CAUTIONS,
        "today": decided_otherwise(found),
        "withdraw_query": urlencode({"reason": _reason(awaiting), "evidence": str(found)}),
    }


def _reason(awaiting):
    return "; ".join(str(finding) for finding in awaiting)[:REASON_LENGTH]


def _not_signed(found):
    if found.stage == Stage.VOID:
        return "inspections/void_page.html", {}
    progress = progress_of(found) if found.is_in_progress else None
    form = None if found.is_in_progress else OpenForm(site=found.machine.site)
    return "inspections/inspection.html", {"progress": progress, "form": form}
