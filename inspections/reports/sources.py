"""What the papers are made from: the questions that they ask of the database."""

from django.urls import reverse

from inspections.models import Inspection
from inspections.reports.label import Label


def for_record(inspections):
    """Return inspections with all that their record is printed from."""
    people = ("signed_by", "countersigned_by")
    return inspections.select_related("record", "machine__area__site", "machine__model", "procedure", *people)


def label_of(machine, *, base_url) -> Label:
    """Return the content of a machine's label today; three queries."""
    inspections = Inspection.objects.filter(machine=machine)
    last = inspections.signed().with_result().select_related("procedure").order_by("-signed_at").first()
    upcoming = inspections.open().order_by("due_on", "pk").first()
    return Label(
        asset_number=machine.asset_number,
        model=str(machine.model),
        url=base_url + reverse("fleet:machine", args=[machine.pk]),
        last_signed=machine.site.date_of(last.signed_at) if last else None,
        procedure=last.procedure.title if last else "",
        summary=last.result_words if last else "",
        next_due=upcoming.due_on if upcoming else None,
        status=machine.status,
    )
