"""What the papers are made from: the questions that they ask of the database."""

from django.urls import reverse

from inspections.actions import issue_label
from inspections.models import Inspection
from inspections.reports.label import Label
from inspections.reports.tag import Tag


def for_record(inspections):
    """Return inspections with all that their record is printed from."""
    people = ("signed_by", "countersigned_by")
    return inspections.select_related("record", "machine__area__site", "machine__model", "procedure", *people)


def label_url(machine, *, base_url, by, at) -> str:
    """Return the address that the code of a label opens: the public page where the site has one, else the machine's.

    The first label of a machine gives it its code.
    """
    if machine.site.has_label_page:
        return base_url + issue_label(machine, by=by, at=at).get_absolute_url()
    return base_url + reverse("fleet:machine", args=[machine.pk])


def tag_of(machine, *, url) -> Tag:
    """Return the content of the DO NOT USE tag of a withdrawn machine."""
    withdrawal = machine.status_change_in_force()
    return Tag(
        asset_number=machine.asset_number,
        model=str(machine.model),
        reason=withdrawal.reason,
        by=str(withdrawal.by or ""),
        on=withdrawal.changed_on,
        url=url,
        phone=machine.site.fault_phone,
    )


def label_of(machine, *, url) -> Label:
    """Return the content of a machine's label today; three queries. `url` is what its code opens."""
    inspections = Inspection.objects.filter(machine=machine)
    last = inspections.signed().with_result().select_related("procedure").order_by("-signed_at").first()
    upcoming = inspections.open().order_by("due_on", "pk").first()
    return Label(
        asset_number=machine.asset_number,
        model=str(machine.model),
        url=url,
        last_signed=machine.site.date_of(last.signed_at) if last else None,
        procedure=last.procedure.title if last else "",
        summary=last.result_words if last else "",
        next_due=upcoming.due_on if upcoming else None,
        status=machine.status,
    )
