"""Test equipment with its scales and calibrations."""

from datetime import date
from typing import Literal

from django.shortcuts import get_object_or_404
from django.utils import timezone
from ninja import Field, Path, Query, Router, Schema

from fleet.api.access import Token
from fleet.api.paging import order_choice, ordered, paged
from fleet.api.places import SiteBrief
from fleet.api.types import Pk, Words
from fleet.models import Calibration, Instrument

router = Router(tags=["Instruments"])
READ = Token("fleet.view_instrument")
StandingWord = Literal["ok", "soon", "out"]


class InstrumentOut(Schema):
    id: int
    code: str
    name: str
    serial: str
    site: SiteBrief
    is_retired: bool
    standing: str = Field(description="Today: ok, soon (expires within 30 days) or out (of calibration).")
    calibrated_on: date | None
    due_on: date | None = Field(description="Last valid day of the latest calibration.")


class ScaleOut(Schema):
    id: int
    dimension: str
    unit: str = Field(description="Unit of every value of the scale; a pressure is gauge.")
    low: float
    high: float
    resolution: float
    of_reading_percent: float
    of_span_percent: float
    absolute: float
    coverage_factor: float = Field(description="Coverage factor of the accuracy; 0 means hard limits.")


class InstrumentDetail(InstrumentOut):
    scales: list[ScaleOut]

    @staticmethod
    def resolve_scales(instrument):
        return list(instrument.scales.all())


class PointOut(Schema):
    reference: float = Field(description="True value as the laboratory states it, in the unit of its scale's points.")
    reading: float = Field(description="What the instrument showed there.")
    expanded: float = Field(description="Expanded uncertainty of the error.")
    k: float = Field(description="Coverage factor of the expanded uncertainty.")
    condition: str = Field(description="found (before adjustment), left (after it) or both (not adjusted).")


class ScalePointsOut(Schema):
    scale: int = Field(description="Id of the scale.")
    unit: str = Field(description="Unit of reference, reading and expanded uncertainty.")
    points: list[PointOut]


class CalibrationOut(Schema):
    id: int
    calibrated_on: date
    due_on: date
    result: str = Field(description="within, adjusted or outside.")
    certificate: str
    laboratory: str
    note: str
    points: list[ScalePointsOut] = Field(
        description="Errors that the certificate states, by scale; empty if not entered."
    )

    @staticmethod
    def resolve_points(calibration):
        return calibration.scale_points


class InstrumentFilter(Schema):
    q: Words | None = Field(None, description="Part of the code, name or serial.")
    site: Pk | None = None
    standing: StandingWord | None = Field(None, description="Calibration status today.")

    def narrow(self, instruments):
        """Return the instruments that match the filter."""
        instruments = instruments.found_by(self.q) if self.q else instruments
        asked = {"site": self.site, "standing": self.standing}
        return instruments.filter(**{name: value for name, value in asked.items() if value})


@router.get("/instruments", response=list[InstrumentOut], auth=READ, summary="Instruments")
@paged
def instruments(
    request, filters: Query[InstrumentFilter], order: Query[order_choice("code", "name", "due_on")] = "code"
):
    return ordered(filters.narrow(visible_instruments(request)), order)


@router.get("/instruments/{int:pk}", response=InstrumentDetail, auth=READ, summary="An instrument with its scales")
def instrument(request, pk: Path[Pk]):
    return get_object_or_404(visible_instruments(request).prefetch_related("scales"), pk=pk)


@router.get("/instruments/{int:pk}/calibrations", response=list[CalibrationOut], auth=READ, summary="Calibrations")
@paged
def calibrations(request, pk: Path[Pk], order: Query[order_choice("calibrated_on", "due_on")] = "-calibrated_on"):
    return ordered(Calibration.objects.filter(instrument=get_object_or_404(visible_instruments(request), pk=pk)), order)


def visible_instruments(request):
    rows = Instrument.objects.visible_to(request.auth.owner).select_related("site")
    return rows.with_standing(timezone.localdate())
