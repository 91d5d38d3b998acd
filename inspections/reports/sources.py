"""What the papers are made from: the questions that they ask of the database."""

from django.urls import reverse

from inspections.models import Inspection, Result
from inspections.reports.label import Label
from inspections.result_display import WORST_FIRST


def for_record(inspections):
    """Return inspections with all that their record is printed from."""
    people = ("signed_by", "countersigned_by")
    return inspections.select_related("record", "machine__area__site", "machine__model", "procedure", *people)


def label_of(machine, *, base_url) -> Label:
    """Return the content of a machine's label today; three queries."""
    inspections = Inspection.objects.filter(machine=machine)
    last = inspections.signed().select_related("procedure").order_by("-signed_at").first()
    upcoming = inspections.open().order_by("due_on", "pk").first()
    return Label(
        asset_number=machine.asset_number,
        model=str(machine.model),
        url=base_url + reverse("fleet:machine", args=[machine.pk]),
        last_signed=machine.site.date_of(last.signed_at) if last else None,
        procedure=last.procedure.title if last else "",
        summary=summary_of(last) if last else "",
        next_due=upcoming.due_on if upcoming else None,
        status=machine.status,
    )


def summary_of(inspection) -> str:
    """Return the worst decision of a signed inspection, or that nothing was judged."""
    found = set(Result.objects.filter(step__inspection=inspection).values_list("decision", flat=True))
    return next((str(word) for word in WORST_FIRST if word in found), "no judged result")
