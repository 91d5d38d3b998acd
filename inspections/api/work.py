"""Inspections: what is due, what was found, and the signed record."""

from datetime import datetime
from typing import Literal

from django.db.models import Prefetch
from django.shortcuts import get_object_or_404
from django.utils import timezone
from ninja import Field, Path, Query, Router, Schema

from fleet.api.access import Token
from fleet.api.machine_answers import PersonOut
from fleet.api.paging import order_choice, ordered, paged
from fleet.api.types import Code, Day, Pk, Words
from inspections.api.answers import InspectionDetail, InspectionOut
from inspections.models import Inspection, InspectionStep, Reading, SignedRecord, Stage

router = Router(tags=["Work"])
READ = Token("inspections.view_inspection")


class InspectionFilter(Schema):
    q: Words | None = Field(None, description="Part of the machine's asset number, serial, model or location.")
    stage: Literal[tuple(Stage.values)] | None = None
    due: Literal["open", "overdue"] | None = Field(
        None, description="open: still to be done; overdue: past its window."
    )
    due_from: Day | None = None
    due_to: Day | None = None
    technician: Words | None = Field(None, description="Username.")
    site: Pk | None = None
    area: Pk | None = None
    machine: Pk | None = None
    procedure: Code | None = None

    def narrow(self, inspections):
        """Keep the inspections that the filter asks for."""
        if self.q:
            inspections = inspections.found_by(self.q)
        if self.due:
            inspections = inspections.open() if self.due == "open" else inspections.overdue(timezone.localdate())
        asked = {
            "stage": self.stage,
            "due_on__gte": self.due_from,
            "due_on__lte": self.due_to,
            "technician__username": self.technician,
            "machine__area__site": self.site,
            "machine__area": self.area,
            "machine": self.machine,
            "procedure__code": self.procedure,
        }
        return inspections.filter(**{path: value for path, value in asked.items() if value})


class AmendmentOut(Schema):
    step: str | None = Field(description="Code of the step; null for the whole record.")
    correction: str
    reason: str
    by: PersonOut
    at: datetime

    @staticmethod
    def resolve_step(amendment):
        return amendment.step.code if amendment.step else None


class RecordOut(Schema):
    inspection: int
    signed_at: datetime
    content: str = Field(
        description="The signed content: canonical JSON text, to be parsed after its digest is checked."
    )
    digest: str = Field(description="SHA-256 of the UTF-8 bytes of `content`, hexadecimal (FIPS 180-4).")
    amendments: list[AmendmentOut] = Field(description="Corrections added to the content after the signature.")


@router.get("/inspections", response=list[InspectionOut], auth=READ, summary="Inspections, due and done")
@paged
def inspections(
    request, filters: Query[InspectionFilter], order: Query[order_choice("due_on", "booked_on", "signed_at")] = "due_on"
):
    rows = filters.narrow(Inspection.objects.visible_to(request.auth.owner).with_place().with_result())
    return ordered(rows, order)


@router.get("/inspections/{int:pk}", response=InspectionDetail, auth=READ, summary="An inspection with its steps")
def inspection(request, pk: Path[Pk]):
    """Steps, current readings, and after the signature the results."""
    readings = Prefetch(
        "readings", Reading.objects.current().select_related("instrument", "entered_by", "token"), "standing_readings"
    )
    steps = InspectionStep.objects.select_related("component").prefetch_related(readings, "results")
    rows = Inspection.objects.visible_to(request.auth.owner).with_place().with_result()
    rows = rows.select_related("version", "signed_by", "countersigned_by").prefetch_related("retests")
    return get_object_or_404(rows.prefetch_related(Prefetch("steps", steps)), pk=pk)


@router.get("/inspections/{int:pk}/record", response=RecordOut, auth=READ, summary="The signed record")
def record(request, pk: Path[Pk]):
    """404 until the inspection is signed."""
    visible = Inspection.objects.visible_to(request.auth.owner)
    found = get_object_or_404(SignedRecord.objects.filter(inspection__in=visible), inspection=pk)
    amendments = found.inspection.amendments.select_related("by", "step")
    return {
        "inspection": pk,
        "signed_at": found.signed_at,
        "content": found.content,
        "digest": found.digest,
        "amendments": list(amendments),
    }
