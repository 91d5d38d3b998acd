"""Findings: what must be dealt with, and reporting a fault."""

from datetime import datetime
from typing import Annotated, Literal

from django.shortcuts import get_object_or_404
from django.utils import timezone
from ninja import Field, Path, Query, Router, Schema, Status

from fleet.api.access import Token
from fleet.api.machine_answers import MachineBrief, PersonOut
from fleet.api.machines import visible_machine
from fleet.api.paging import order_choice, ordered, paged
from fleet.api.places import SiteBrief
from fleet.api.types import NOT_BLANK, PRINTABLE, Body, Pk, Words
from inspections.actions import report_fault
from inspections.models import Finding, Severity

router = Router(tags=["Findings"])
READ = Token("inspections.view_finding")
SeverityWord = Literal[tuple(Severity.values)]


class FindingOut(Schema):
    id: int
    machine: MachineBrief
    site: SiteBrief = Field(alias="machine.area.site")
    origin: str = Field(description="failed outcome (of a test), fault report, or circuit (contradicts the record).")
    severity: str = Field(description="essential (the machine must not be used) or other.")
    title: str
    opened_at: datetime
    closed_at: datetime | None


class FindingDetail(FindingOut):
    description: str
    inspection: int | None = Field(description="Inspection whose result failed; null for the other origins.")
    outcome: str | None = Field(description="Key of the failed result.")
    opened_by: PersonOut | None
    program: str | None = Field(description="The program that reported it with a token of `opened_by`, else null.")
    closed_by: PersonOut | None
    closing_note: str
    work_hours: float | None = Field(description="Hours.")

    @staticmethod
    def resolve_program(finding):
        return finding.token.name if finding.token else None

    @staticmethod
    def resolve_inspection(finding):
        return finding.result.step.inspection_id if finding.result else None

    @staticmethod
    def resolve_outcome(finding):
        return finding.result.key if finding.result else None


class FindingFilter(Schema):
    q: Words | None = Field(None, description="Text to search for in the finding or the machine.")
    status: Literal["open", "closed"] | None = None
    severity: SeverityWord | None = None
    site: Pk | None = None
    machine: Pk | None = None

    def narrow(self, findings):
        """Keep the findings that the filter asks for."""
        if self.q:
            findings = findings.found_by(self.q)
        if self.status:
            findings = findings.open() if self.status == "open" else findings.closed()
        asked = {"severity": self.severity, "machine__area__site": self.site, "machine": self.machine}
        return findings.filter(**{path: value for path, value in asked.items() if value})


class FaultIn(Body):
    title: Annotated[str, Field(max_length=200, pattern=NOT_BLANK)] = Field(
        description="What is wrong, in a few words."
    )
    description: Annotated[str, Field(max_length=4000, pattern=PRINTABLE)] = Field("", description="How it shows.")
    severity: SeverityWord = Field(
        description="If in doubt choose essential: somebody then decides about withdrawal from use."
    )


@router.get("/findings", response=list[FindingOut], auth=READ, summary="Findings")
@paged
def findings(
    request, filters: Query[FindingFilter], order: Query[order_choice("opened_at", "closed_at")] = "-opened_at"
):
    return ordered(filters.narrow(Finding.objects.visible_to(request.auth.owner).with_place()), order)


@router.get("/findings/{int:pk}", response=FindingDetail, auth=READ, summary="A finding")
def finding(request, pk: Path[Pk]):
    rows = Finding.objects.visible_to(request.auth.owner).with_place().select_related("opened_by", "closed_by", "token")
    return get_object_or_404(rows, pk=pk)


@router.post(
    "/machines/{int:pk}/findings",
    response={201: FindingDetail},
    auth=Token("inspections.add_finding"),
    summary="Report a fault",
)
def fault_report(request, pk: Path[Pk], body: FaultIn):
    """Opens a finding that names the token and its owner."""
    machine, token = visible_machine(request, pk), request.auth
    found = report_fault(machine, by=token.owner, token=token, at=timezone.now(), **body.model_dump())
    return Status(201, found)
